// Stands at the end of a page's own script in tests: moves readings and answers with what the page holds.
const trusted = i => {
  const s = propagate(i);
  return s.error ? { error: s.error } : { u: s.u, freedom: s.freedom, factor: s.bounded ? s.bounded[0] : coverageFactor(s.freedom), correlated: s.correlated,
    unstated: s.unstated, lines: s.lines.map(l => [l.i, l.m, l.u, l.slope, part(l), l.share]) };
};
try {
  answer.cells = P.cells.map((c, i) => ({ name: c.n, hidden: c.s >= 0, value: V[i], state: S[i],
    partials: runs(i) ? call(V, S, i, 1)[2] : null, used: runs(i) ? call(V, S, i, 2)[2].map(u => !!u) : null,
    because: because(i), trust: known(i) && !P.cells[i].w ? trusted(i) : null }));
  answer.before = state();
  for (const [k, position] of MOVES) {
    const range = document.getElementById("adjust-" + k);
    range.value = position;
    range.dispatchEvent(new Event("input"));
  }
  answer.after = state();
  answer.trust = P.cells.map((c, i) => known(i) && !c.w ? trusted(i) : null);
  answer.spoken = P.adjust.map((a, k) => document.getElementById("adjust-" + k).getAttribute("aria-valuetext"));
  answer.paths = Array.from(document.querySelectorAll("path.line.s1"), e => e.getAttribute("d"));
  answer.rings = Array.from(document.querySelectorAll("circle.ring"), e => [+e.getAttribute("cx"), +e.getAttribute("cy")]);
  answer.bars = Array.from(document.querySelectorAll("path.bar"), e => e.getAttribute("d"));
  answer.figures = FIGURES.filter(([v, f]) => figure(v) !== f).map(([v, f]) => [v, f, figure(v)]);
  answer.given = GIVEN.filter(([v, f]) => figureAsGiven(v) !== f).map(([v, f]) => [v, f, figureAsGiven(v)]);
  answer.rounded = ROUNDED.filter(([v, u, f]) => valueAndUncertainty(v, u).join(" ") !== f).map(([v, u, f]) => [v, u, f, valueAndUncertainty(v, u)]);
  answer.factors = FACTORS.map(([n, f]) => Math.abs(coverageFactor(n === "Infinity" ? Infinity : n) / f - 1)).reduce((a, b) => Math.max(a, b), 0);
  answer.signed = SIGNED.filter(([v, f]) => signed(v, 3) !== f).map(([v, f]) => [v, f, signed(v, 3)]);
  // Near a zero of the cosine, and of the logarithm, what counts is the error of the result itself.
  answer.off = Math.max(0, ...FUNCTIONS.map(([f, x, y, r]) =>
    Math.abs((f === "pow" ? Math.pow(x, y) : Math[f](x)) - r) / Math.max(Math.abs(r), f === "cos" || f === "log" ? 1 : 0)));
} catch (e) { answer.problems.push(String(e) + " " + e.stack); }
document.body.textContent = "";
const pre = document.createElement("pre");
pre.id = "answer";
pre.textContent = btoa(unescape(encodeURIComponent(JSON.stringify(answer, (k, v) => typeof v === "number" && !isFinite(v) ? String(v) : v))));
document.body.append(pre);
