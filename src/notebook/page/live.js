// Values and states of all cells, recomputed as sheet/evaluate.rs does.
const N = P.cells.length, own = P.cells.map(c => c.r);
const runs = i => P.cells[i].f >= 0 && (!own[i] || P.cells[i].g);
const inputs = (V, S, c, i) => {
  const v = c.o.map(k => V[k]), s = c.o.map(k => S[k]);
  if (i !== undefined && c.q) { v.push(own[i] ? own[i][0] : 1); s.push(own[i] ? own[i][1] : 4); }
  return [v, s];
};
const call = (V, S, i, m) => { const c = P.cells[i], x = inputs(V, S, c, i); return T[c.f](x[0], x[1], m); };
// Answers on cells as they stand, each worked out once until something is moved.
const kept = new Map();
const once = (of, i) => {
  if (!kept.has(of)) kept.set(of, new Map());
  const all = kept.get(of);
  if (!all.has(i)) all.set(i, of(i));
  return all.get(i);
};
const settle = (V, S, only) => {
  for (let i = 0; i < N; i++) {
    if (only && !only[i]) continue;
    const r = runs(i) ? call(V, S, i, 0) : own[i] || [1, 4];
    V[i] = r[0]; S[i] = r[1];
  }
};
// For each cell whether it can change when one of these does.
const reached = from => {
  const met = new Array(N).fill(false);
  for (const i of from) met[i] = true;
  for (let i = 0; i < N; i++) if (P.cells[i].o.some(k => met[k])) met[i] = true;
  return met;
};
const V = new Array(N).fill(1), S = new Array(N).fill(4);
const known = i => !(S[i] & 12);
const label = i => P.cells[i].l, unit = i => P.cells[i].u;
const figureOf = i => own[i] ? figureAsGiven(V[i]) : figure(V[i]);
const said = i => known(i) ? P.cells[i].w ? P.cells[i].w[V[i]].replace(/_/g, " ")
  : withUnit(figureOf(i), unit(i)) : S[i] & 8 ? "faulty" : "missing";

// What a present value used, nearest first, as sheet/advice.rs walks.
const speaker = i => P.cells[i].s >= 0 ? P.cells[i].s : i;
const cameFrom = i => {
  const met = new Set([i]), found = [i];
  for (let n = 0; n < found.length; n++) {
    const at = found[n], c = P.cells[at];
    if (c.f < 0 || own[at] && !c.q) continue;
    const used = call(V, S, at, 2)[2];
    c.o.forEach((o, k) => {
      const s = speaker(o);
      if (used[k] && !met.has(s)) { met.add(s); found.push(s); }
    });
  }
  return found;
};
const advice = cells => {
  const found = [];
  for (const cell of cells) {
    const here = [];
    for (const at of cameFrom(cell)) for (const r of P.rules) if (r.c === at) {
      const x = inputs(V, S, r), y = T[r.f](x[0], x[1], 0);
      if (!(y[1] & 12) && y[0] !== 0 && !here.includes(r)) here.push(r);
    }
    here.sort((a, b) => b.k - a.k);
    for (const r of here) if (!found.some(f => f.t === r.t)) found.push(r);
  }
  return found.sort((a, b) => b.k - a.k);
};

// Why a cell is not known, as sheet/causes.rs finds it.
const TROUBLE = P.trouble;
const causes = (i, out) => {
  if (known(i)) return out;
  const who = speaker(i), c = P.cells[i], name = P.cells[who].n;
  const silent = () => out.push(P.cells[who].x ? [1, P.cells[who].i, name + " could not be obtained"]
    : [0, P.cells[who].i, name + " has no reading"]);
  if (!runs(i)) { silent(); return out; }
  const y = call(V, S, i, 2), faulty = S[i] & 8;
  c.o.forEach((o, k) => { if (y[2][k] & 2 && (faulty ? S[o] & 8 : !known(o))) causes(o, out); });
  if (c.q && y[2][c.o.length] & 2 && !own[i] && !faulty) silent();
  for (const [op, kind] of y[3]) {
    const words = c.c[op];
    if (kind === 0 && !faulty) out.push([2, P.cells[who].i, name + " is withheld: " + words]);
    if (kind > 0 && faulty) out.push([3, P.cells[who].i, name + " " + TROUBLE[kind] + (words ? ": `" + words + "`" : "")]);
  }
  return out;
};
// The same for colleagues: cells by their words rather than their names.
const plainly = i => because(i).map(t => {
  const name = t.split(" ", 1)[0], c = P.cells.find(c => c.n === name && c.s < 0);
  return c ? c.t + t.slice(name.length) : t;
}).join("; ");
const because = i => {
  const all = causes(i, []).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map(c => c[2]);
  return all.filter((t, k) => all.indexOf(t) === k);
};

// What the error of a cell comes from, by one sweep back, as uncertainty/source.rs finds it.
const settled = (slope, size) => isFinite(size) && Math.abs(slope) <= 1e-12 * size ? 0 : slope;
// The parts of a reading's own uncertainty, joined as quantity/reading.rs joins them.
const stated = (parts, value) => {
  // A share of zero says nothing.
  if (value === 0 && parts.some(e => e.s !== undefined)) return { u: undefined, freedom: Infinity };
  const all = parts.map(e => [e.a !== undefined ? e.a : e.s * Math.abs(value), e.d === undefined ? Infinity : e.d]);
  if (all.length === 1) return { u: all[0][0], freedom: all[0][1] };
  let squares = 0, sum = 0;
  for (const [u, d] of all) { squares += u * u; sum += u ** 4 / d; }
  return { u: Math.hypot(all[0][0], all[1][0]), freedom: sum > 0 ? squares * squares / sum : Infinity };
};
const readingCause = (found, i, a, b) => {
  const slope = settled(a, b), c = P.cells[i];
  if (slope === 0) { if (found.cancelled) found.cancelled.set(i, b); return; }
  asCause(found, i, slope);
};
const asCause = (found, i, slope) => {
  const c = P.cells[i];
  if (c.s >= 0 || !c.v || c.w) return;
  const e = c.e ? stated(c.e, own[i][0]) : { u: c.p && known(i) ? c.p[0] * Math.abs(V[i]) : undefined, freedom: Infinity };
  found.push({ i, m: false, slope, u: e.u, from: c.e || !c.p ? "" : c.p[1], freedom: e.freedom });
};
// One step back through the formula of a cell, which is leant on by a with size b.
const enter = (A, B, found, i, a, b, p, q) => {
  const c = P.cells[i], k = c.o.length;
  c.o.forEach((o, k) => { if (q[k] !== 0) { A[o] += a * p[k]; B[o] += b * q[k]; } });
  if (c.q && q[k] !== 0) readingCause(found, i, a * p[k], b * q[k]);
};
const sweep = (A, B, found, from, met) => {
  for (let i = from; i >= 0; i--) {
    if (B[i] === 0) continue;
    const c = P.cells[i];
    if (!runs(i)) { readingCause(found, i, A[i], B[i]); continue; }
    const slope = settled(A[i], B[i]);
    if (met) met(i, slope);
    if (c.m !== undefined && slope !== 0) found.push({ i, m: true, slope, u: c.m, from: "", freedom: Infinity });
    const [, , p, q] = call(V, S, i, 1);
    enter(A, B, found, i, A[i], B[i], p, q);
  }
  return inOrder(found);
};
const sources = (cell, met) => {
  const A = new Array(N).fill(0), B = new Array(N).fill(0), found = [];
  A[cell] = B[cell] = 1;
  found.cancelled = new Map();
  return sweep(A, B, found, cell, met);
};
// Of a quantity within the formula of a cell.
const sourcesWithin = (cell, p, q) => {
  const A = new Array(N).fill(0), B = new Array(N).fill(0), found = [];
  enter(A, B, found, cell, 1, 1, p, q);
  return sweep(A, B, found, cell - 1);
};
const inOrder = found => found.sort((x, y) => x.m - y.m || P.cells[x.i].i - P.cells[y.i].i);
const part = s => s.slope * s.u;
// The sum over all pairs, with the correlations that are stated.
const cross = all => {
  const between = (x, y) => {
    if (x.m || y.m || x.i === y.i) return +(x.m === y.m && x.i === y.i);
    const pair = P.settings.pairs.find(c => c[0] === x.i && c[1] === y.i || c[1] === x.i && c[0] === y.i);
    return pair ? pair[2] : 0;
  };
  let sum = 0;
  for (const x of all) for (const y of all) { const r = between(x, y); if (r !== 0) sum += part(x) * part(y) * r; }
  return sum;
};
const isTied = stated => P.settings.pairs.some(c => c[2] !== 0 && c[0] !== c[1]
  && [c[0], c[1]].every(i => stated.some(s => !s.m && s.i === i)));
const effective = (stated, u, tied) => {
  let fourth = 0;
  for (const s of stated) fourth += part(s) ** 4 / s.freedom;
  return tied || !(fourth > 0) ? Infinity : u ** 4 / fourth;
};
// The linear answer of uncertainty/linear.rs.
const propagate = i => once(linear, i);
const linear = i => {
  if (P.settings.wrong) return { error: P.settings.wrong };
  const name = k => "`" + P.cells[k].n + "`";
  if (!known(i) || P.cells[i].w) return { error: name(i) + " is not known, so there is nothing to be uncertain of" };
  const all = sources(i), bad = all.find(s => !isFinite(s.slope));
  if (bad) return { error: name(i) + " has no finite slope with respect to " + name(bad.i) + " here: use the simulation" };
  const stated = all.filter(s => s.u !== undefined), unstated = all.filter(s => s.u === undefined).map(s => s.i);
  let own = 0;
  for (const s of stated) own += part(s) ** 2;
  const shared = cross(stated) - own, variance = Math.max(0, own + shared), u = Math.sqrt(variance);
  const tied = isTied(stated), left = flat(i, all, u);
  unstated.push(...left.unstated);
  unstated.sort((x, y) => P.cells[x].i - P.cells[y].i);
  const lines = stated.map(s => ({ ...s, share: variance > 0 ? part(s) ** 2 / variance : 0 }));
  lines.sort((x, y) => y.share - x.share || P.cells[x.i].i - P.cells[y.i].i);
  const moving = stated.filter(s => part(s) !== 0), freedom = effective(stated, u, tied);
  // One reading with bounds is all that is uncertain.
  const bounded = moving.length === 1 && !moving[0].m && P.cells[moving[0].i].h;
  return { all, u, unstated, unseen: left.stated, lines, correlated: variance > 0 ? shared / variance : 0, freedom,
    bounded, undefinedFreedom: tied && stated.some(s => isFinite(s.freedom) && part(s) !== 0) };
};
// Of a change from one cell to another, held against no change, as uncertainty/difference.rs finds it.
const changeOf = (first, second, ratio) => {
  const key = s => s.i + (s.m ? N : 0), both = new Map();
  [first.all, second.all].forEach((all, side) => { for (const s of all) {
    const at = both.get(key(s)) || { ...s, slopes: [0, 0] };
    at.slopes[side] += s.slope;
    both.set(key(s), at);
  } });
  const less = (a, b) => settled(a - b, Math.abs(a) + Math.abs(b));
  const left = inOrder(Array.from(both.values()).map(s => {
    const [a, b] = s.slopes, shifted = less(b, a);
    const scaled = isFinite(ratio) && ratio > 0 && a !== 0 && b !== 0 ? less(b * ratio, a) : shifted;
    return { ...s, slope: Math.abs(scaled) < Math.abs(shifted) ? scaled : shifted };
  })).filter(s => s.slope !== 0);
  const stated = left.filter(s => s.u !== undefined), u = Math.sqrt(Math.max(0, cross(stated)));
  return isFinite(u) ? { u, freedom: wholeFreedom(effective(stated, u, isTied(stated))), unstated: left.filter(s => s.u === undefined) } : undefined;
};
// Readings that a cell moves with though its slope in them is zero, as uncertainty/flat.rs finds them.
const flat = (cell, all, u) => {
  const found = { stated: [], unstated: [] }, met = new Set([cell]), waiting = [cell], still = [];
  while (waiting.length) {
    const i = waiting.pop();
    if ((!runs(i) || P.cells[i].q) && known(i) && own[i] && !(own[i][1] & 12) && !all.some(s => !s.m && s.i === i)) asCause(still, i, 0);
    if (runs(i)) for (const o of P.cells[i].o) if (!met.has(o)) { met.add(o); waiting.push(o); }
  }
  if (!still.length) return found;
  const off = inOrder(all.concat(still)).filter(s => !s.m && s.u !== undefined && known(s.i)).map(s => {
    const k = P.cells[s.i].i;
    return [s.i, [V[s.i] + (k % 2 ? -1 : 1) * (1 - .1 * (k % 7)) * s.u, 0]];
  });
  const apart = (a, b, size) => (a[1] | b[1]) & 12 ? !(a[1] & 12) !== !(b[1] & 12)
    : Math.abs(a[0] - b[0]) > Math.max(1e-9 * Math.max(Math.abs(a[0]), Math.abs(b[0]), size), .005 * u);
  for (const s of inOrder(still)) {
    const v = V[s.i], size = all.cancelled.get(s.i) || 0;
    const steps = s.u !== undefined ? [-2, -1, 1, 2].map(k => k * s.u) : v === 0 ? [-1, 1] : [-.1 * v, .1 * v];
    const moves = [[], off].some(others => {
      const beside = others.filter(o => o[0] !== s.i), at = by => ifOthers(cell, beside.concat([[s.i, [v + by, 0]]]));
      const here = at(0);
      return steps.some(by => apart(here, at(by), Math.abs(size * by)));
    });
    if (moves) (s.u !== undefined ? found.stated : found.unstated).push(s.i);
  }
  return found;
};
// Bends and branches within reach of the uncertainties, as uncertainty/bends.rs finds them.
const turnsWith = (a, b) => [1, -1].find(sign =>
  a.every((x, k) => Math.abs(x - sign * b[k]) <= 1e-9 * Math.max(Math.abs(x), Math.abs(b[k]))));
const jumps = (a, b) => a[1] & 12 ? !(b[1] & 12) : !!(b[1] & 12) || Math.abs(a[0] - b[0]) > 1e-12 * Math.max(Math.abs(a[0]), Math.abs(b[0]));
const isOther = (a, b, n) => jumps(a, b) || !(a[1] & 12)
  && a[2].some((p, k) => k < n && Math.abs(p - b[2][k]) > 1e-12 * Math.max(a[3][k], b[3][k]));
const ifOthers = (cell, others) => {
  const v = V.slice(), s = S.slice(), only = reached(others.map(o => o[0]));
  for (const [i, lane] of others) { only[i] = false; v[i] = lane[0]; s[i] = lane[1]; }
  settle(v, s, only);
  return [v[cell], s[cell]];
};
const ifOther = (cell, i, lane) => ifOthers(cell, [[i, lane]]);
const deciding = i => {
  const d = P.cells[i].k, x = inputs(V, S, P.cells[i], i), outcomes = [], near = [];
  d.q.forEach(([f, text, branch], n) => {
    const y = T[f](x[0], x[1], 1);
    outcomes.push([+(y[0] > 0), y[1]]);
    if (y[1] & 12) return;
    const all = sourcesWithin(i, y[2], y[3]).filter(s => s.u !== undefined), u = Math.sqrt(Math.max(0, cross(all)));
    if (u > 0 && Math.abs(y[0]) <= coverageFactor(effective(all, u, isTied(all))) * u)
      near.push({ n, text, branch, leans: [y[0], ...y[2]].map(e => e / u) });
  });
  const steered = turned => {
    const now = outcomes.map(o => o.slice());
    for (const p of near) if (turned(p)) now[p.n][0] = 1 - now[p.n][0];
    return T[d.s](x[0].concat(now.map(o => o[0])), x[1].concat(now.map(o => o[1])), 1);
  };
  const sides = place => {
    for (const others of [false, true]) {
      const [here, beyond] = [false, true].map(far => steered(p => {
        const turns = turnsWith(p.leans, place.leans);
        if (turns === undefined) return others;
        return far !== (outcomes[place.n][0] === outcomes[p.n][0] !== (turns === 1));
      }));
      if (isOther(beyond, here, x[0].length)) return [here, beyond];
    }
  };
  return { near, sides };
};
const bends = cell => {
  const waiting = [cell], met = new Set(waiting), at = [], found = [];
  while (waiting.length) {
    const i = waiting.pop();
    if (!runs(i)) continue;
    if (P.cells[i].k) at.push(i);
    for (const o of P.cells[i].o) if (!met.has(o)) { met.add(o); waiting.push(o); }
  }
  let moving;
  for (const i of at.sort((a, b) => a - b)) {
    const { near, sides } = deciding(i);
    for (const place of near) {
      const both = sides(place);
      if (!both) continue;
      if (!moving) { moving = new Set(); sources(cell, (k, slope) => { if (slope !== 0) moving.add(k); }); }
      const moves = moving.has(i) || jumps(ifOther(cell, i, both[0]), ifOther(cell, i, both[1]));
      if (moves && !found.some(f => f.i === i && f.text === place.text)) found.push({ i, text: place.text, branch: place.branch });
    }
  }
  return found;
};
const bendWords = cell => once(wordsOfBends, cell);
const wordsOfBends = cell => {
  const found = P.settings.wrong || !known(cell) || P.cells[cell].w ? [] : bends(cell);
  if (!found.length) return "";
  return found.map(f => "`" + f.text + "`" + (f.i === cell ? "" : " in " + P.cells[f.i].n) + (f.branch ? " may turn" : " bends")).join(" and ")
    + " within reach of the readings' uncertainties, so that linear figures do not hold: `simulate " + P.cells[cell].n + "` gives those that do";
};
const names = cells => cells.map(k => P.cells[k].n).join(", ");
const limitWords = (cell, s) => {
  const bent = bendWords(cell);
  if (bent || !s.unseen || !s.unseen.length) return bent;
  return (s.unseen.length > 1 ? "the slopes in " + names(s.unseen) + " are zero where they stand, so that linear figures leave their"
    : "the slope in " + names(s.unseen) + " is zero where it stands, so that linear figures leave its")
    + " uncertainty out: `simulate " + P.cells[cell].n + "` gives those that hold it";
};
// Which uncertainties were taken from publications, as uncertainty/words.rs tells it.
const taken = lines => {
  const all = [];
  for (const l of lines) if (l.from) {
    const t = all.find(t => t.from === l.from);
    if (!t) all.push({ from: l.from, cells: [l.i] });
    else if (!t.cells.includes(l.i)) t.cells.push(l.i);
  }
  return all;
};
const which = (t, verbs) => (t.cells.length === 1 ? "that" : "those") + " of " + names(t.cells) + verbs[t.cells.length === 1 ? 0 : 1] + " taken from " + t.from;
const publishedSentence = lines => {
  const all = taken(lines).map(t => which(t, [" is", " are"]));
  return all.length ? " Of the uncertainties, " + all.join(", ") + "." : "";
};
const freedomWords = s => exact(s.freedom, s.freedom < 50 ? 1 : 0) + " effective degrees of freedom";
// The coverage interval and its factor.
const coverage = (i, s) => {
  const k = s.bounded ? s.bounded[0] : coverageFactor(s.freedom), [low, high] = toPlaceOf(s.u, [V[i] - k * s.u, V[i] + k * s.u]);
  return { k, low, high: withUnit(high, unit(i)) };
};
const coverageWords = (i, s) => {
  const c = coverage(i, s);
  return P.settings.said + " coverage interval " + c.low + " to " + c.high + " (factor " + exact(c.k, 2) + ", "
    + (s.bounded ? s.bounded[1] : isFinite(s.freedom) ? freedomWords(s)
      : s.undefinedFreedom ? P.settings.undefined : "degrees of freedom not limited") + ")";
};
// The readings behind a value, where none of them states an uncertainty.
const nothingStated = i => {
  if (!known(i) || P.cells[i].w) return [];
  const s = propagate(i);
  return s.error || s.lines.length ? [] : s.unstated;
};
const unstatedNote = cells => {
  const all = [];
  for (const i of cells) for (const k of nothingStated(i)) if (k !== i && !all.includes(k)) all.push(k);
  return all.length ? P.settings.note.join(names(all)) : "";
};
// The words of uncertainty/report.rs.
const trust = (i, full) => {
  if (!known(i) || P.cells[i].w) return "";
  const s = propagate(i);
  if (s.error) return "no uncertainty: " + s.error;
  const bent = limitWords(i, s);
  if (!s.lines.length) return [s.unstated.length ? P.settings.silent : "", bent].filter(t => t).join("; ");
  const [v, u] = valueAndUncertainty(V[i], s.u);
  let t = withUnit(v, unit(i)) + " with standard uncertainty " + withUnit(u, unit(i));
  if (full && s.u > 0) {
    const c = coverage(i, s);
    t += ", " + P.settings.said + " coverage " + c.low + " to " + c.high
      + (isFinite(s.freedom) ? " with " + freedomWords(s)
        : s.undefinedFreedom ? " (" + P.settings.undefined + ")" : "");
  }
  if (s.unstated.length) t += ", a lower bound: none is stated for " + names(s.unstated);
  for (const p of taken(s.lines)) t += ", " + which(p, ["", ""]);
  return bent ? t + "; " + bent : t;
};
// Coverage factors, step by step as uncertainty/student.rs finds them.
const gammaRatio = a => {
  let down = 1;
  for (; a < 20; a++) down *= a / (a + .5);
  const w = a - .25, s = 1 / (w * w);
  return down * Math.sqrt(w) * (1 + s * (1 / 64 + s * (s * (631 / 524288 - s * (174317 / 134217728)) - 19 / 8192)));
};
const series = (a, c, x) => {
  let term = 1, sum = 1;
  for (let k = 0; term > 1e-17 * sum && k < 1e6; k++) { term *= (a + k) / (c + k) * x; sum += term; }
  return sum;
};
const expanded = (z, n) => {
  const w = z * z;
  return z + z * [(w + 1) / 4, ((5 * w + 16) * w + 3) / 96, (((3 * w + 19) * w + 17) * w - 15) / 384,
    ((((79 * w + 776) * w + 1482) * w - 1920) * w - 945) / 92160,
    (((((27 * w + 339) * w + 930) * w - 1782) * w - 765) * w + 17955) / 368640].reduceRight((sum, t) => (sum + t) / n, 0);
};
const wholeFreedom = freedom => Math.max(1, Math.floor(freedom * (1 + 1e-12)));
const coverageFactor = (freedom, { level, normal } = P.settings) => {
  const n = wholeFreedom(freedom);
  if (n === Infinity) return normal;
  if (n > 1000) return expanded(normal, n);
  const top = gammaRatio(.5 * n) / Math.sqrt(n * Math.PI);
  const density = t => top * Math.exp(-.5 * (n + 1) * Math.log1p(t * t / n));
  const outside = t => t > 3 || t * t > n
    ? 2 * t * density(t) / n * series(.5 * (n + 1), .5 * n + 1, n / (n + t * t)) - (1 - level)
    : level - 2 * t * density(t) * series(.5 * (n + 1), 1.5, t * t / (n + t * t));
  let low = 0, high = 1;
  while (outside(high) > 0 && high < 1e300) { low = high; high *= 2; }
  for (let k = 0; k < 12; k++) { const m = .5 * (low + high); if (outside(m) > 0) low = m; else high = m; }
  let t = low;
  for (let k = 0; k < 6; k++) { const step = outside(t) / (2 * density(t)); if (!isFinite(step)) break; t += step; }
  return t;
};

if (typeof document !== "undefined") {
const make = (tag, attributes, text) => {
  const e = document.createElement(tag);
  for (const k in attributes) e.setAttribute(k, attributes[k]);
  if (text !== undefined) e.textContent = text;
  return e;
};
const put = (e, text) => { if (e && e.textContent !== text) e.textContent = text; };
const place = id => document.getElementById("output-" + id);

// Tables of `show`.
const ORIGIN = ["measured", "estimated", "assumed"];
const howKnown = i => {
  if (!known(i)) { const w = S[i] & 8 ? "faulty" : "missing"; return [["state " + w, w]]; }
  const parts = [["state known", P.cells[i].v ? "reading" : "computed"]];
  if (S[i] & 3) { const o = ORIGIN[S[i] & 2 ? 2 : 1]; parts.push(["origin " + o, o]); }
  return parts;
};
const remarks = i => {
  const c = P.cells[i], all = [];
  if (c.b) all.push(c.b);
  const t = trust(i, true);
  if (t) all.push(t);
  return all.concat(because(i)).join("; ");
};
const showRow = (row, i) => {
  const td = row.children;
  put(td[1], known(i) ? P.cells[i].w ? said(i) : figureOf(i) : "");
  const parts = howKnown(i), now = parts.map(p => p.join("|")).join("/");
  if (td[3].dataset.now !== now) {
    td[3].dataset.now = now;
    td[3].textContent = "";
    parts.forEach((p, k) => { if (k) td[3].append(" "); td[3].append(make("span", { class: p[0] }, p[1])); });
  }
  put(td[4], remarks(i));
};
const showUnstated = (box, cells) => {
  const note = unstatedNote(cells);
  let p = box.querySelector("p.unstated");
  if (!p) { if (!note) return; p = make("p", { class: "unstated" }); box.querySelector(".scroll").after(p); }
  p.hidden = !note;
  put(p, note);
};
const showAdvice = (box, cells) => {
  const found = advice(cells);
  let list = box.querySelector("ul.advisories");
  if (!list) { if (!found.length) return; list = make("ul", { class: "advisories" }); box.append(list); }
  list.hidden = !found.length;
  const now = found.map(r => r.t).join("\n");
  if (list.dataset.now === now) return;
  list.dataset.now = now;
  list.textContent = "";
  for (const r of found) {
    const word = r.k ? "caution" : "note", li = make("li", { class: word });
    li.append(make("b", {}, word[0].toUpperCase() + word.slice(1)), " " + r.t + " ", make("small", {}, "(" + r.s + ")"));
    list.append(li);
  }
};

// `describe`.
const isTrusted = i => !nothingStated(i).length && trust(i) !== "";
const holds = ([kind, i, arg]) => kind === "known" ? known(i) : kind === "missing" ? !known(i)
  : kind === "below" ? known(i) && LT(V[i], arg) : kind === "above" ? known(i) && LT(arg, V[i])
  : kind === "within" ? known(i) && !LT(V[i], arg[0]) && !LT(arg[1], V[i])
  : kind === "word" ? known(i) && V[i] === arg
  : kind === "trusted" ? isTrusted(i)
  : kind === "unstated" ? known(i) && !isTrusted(i)
  : known(i) && Z(S[i]) === arg;
const spoken = p => typeof p === "string" ? p : p[0] === "value" ? said(p[1])
  : p[0] === "because" ? plainly(p[1]) : trust(p[1]);
const describe = d => d.s.filter(s => s.w.every(holds)).map(s => s.p.map(spoken).join("")).join(" ");

// Charts.
const SVG = "http://www.w3.org/2000/svg";
const drawn = (tag, attributes, text) => {
  const e = document.createElementNS(SVG, tag);
  for (const k in attributes) e.setAttribute(k, attributes[k]);
  if (text !== undefined) e.textContent = text;
  return e;
};
const computed = i => withUnit(figure(V[i]), unit(i));
const px = n => String(Math.round(n * 10) / 10);
const at = (a, v) => a.p + (Math.min(Math.max(v, a.l), a.h) - a.l) / (a.h - a.l) * (a.q - a.p);
const saying = (svg, text) => put(svg.querySelector("desc"), text);
const curveOf = d => {
  const v = V.slice(), s = S.slice(), only = reached([d.x]), before = own[d.x], lines = d.y.map(() => []);
  for (let n = 0; n < d.n; n++) {
    const x = d.lo + (d.hi - d.lo) * n / (d.n - 1);
    own[d.x] = [x, 0];
    settle(v, s, only);
    d.y.forEach((y, k) => { if (!(s[y] & 12)) lines[k].push([at(d.ax, x), at(d.ay, v[y])]); });
  }
  own[d.x] = before;
  return lines;
};
const drawCurve = d => {
  const svg = place(d.id).querySelector("svg"), lines = curveOf(d), now = [];
  const paths = svg.querySelectorAll("path.line");
  lines.forEach((l, k) => paths[k].setAttribute("d", l.length ? "M" + l.map(p => px(p[0]) + "," + px(p[1])).join("L") : "M0,0"));
  svg.querySelectorAll(".ring,.mark-label").forEach(e => e.remove());
  if (known(d.x) && V[d.x] >= d.lo && V[d.x] <= d.hi) d.y.forEach((y, k) => {
    if (!known(y)) return;
    const x = at(d.ax, V[d.x]), h = at(d.ay, V[y]), text = "now " + computed(y);
    svg.append(drawn("circle", { class: "ring s" + (k + 1), "stroke-width": "1.8", cx: px(x), cy: px(h), r: "4.5" }));
    const w = text.length * 6.4, spots = [[x - 8 - w, h - 10], [x + 8, h - 10], [x + 8, h + 18], [x - 8 - w, h + 18]];
    const clear = ([l, b]) => l > d.ax.p + 2 && l + w < d.ax.q && b - 12 > d.ay.q && b < d.ay.p
      && !lines.some(line => line.some(p => p[0] > l - 4 && p[0] < l + w + 4 && p[1] > b - 13 && p[1] < b + 5));
    const spot = spots.find(clear) || [Math.max(d.ax.p + 2, Math.min(x + 8, d.ax.q - w)), Math.max(h - 10, d.ay.q + 13)];
    svg.append(drawn("text", { class: "mark-label", x: px(spot[0]), y: px(spot[1]), "font-size": "12" }, text));
    now.push(label(y) + " now " + said(y) + " at " + said(d.x));
  });
  saying(svg, d.d + " " + (now.length ? now.join("; ") + "." : "Nothing is known at the present readings."));
};
// A row of figures; the first field names it.
const figuresRow = ([name, ...fields]) => {
  const tr = make("tr", {});
  tr.append(make("th", { scope: "row" }, name), ...fields.map(f => make("td", { class: "number" }, f)));
  return tr;
};
// A bar from zero, top and bottom beside the middle of its row, and the label at its end.
const barTo = (zero, end, middle, top, bottom) => "M" + px(Math.min(zero, end)) + "," + px(middle + top) + "h" + px(Math.abs(end - zero))
  + "v" + px(bottom - top) + "h" + px(-Math.abs(end - zero)) + "z";
const endLabel = (end, left, middle, text) => drawn("text",
  { class: "value", x: px(end + (left ? -5 : 5)), y: px(middle + 4.3), "font-size": "12", "text-anchor": left ? "end" : "start" }, text);
const drawEffects = d => {
  const svg = place(d.id).querySelector("svg"), caption = place(d.id).querySelector("figcaption");
  const bars = [svg.querySelectorAll("path.open-bar"), svg.querySelectorAll("path.bar")];
  svg.querySelectorAll(".value").forEach(e => e.remove());
  const y = d.y, words = [], body = place(d.id).querySelector("tbody"), count = d.n, isShare = d.m === null;
  body.textContent = "";
  const empty = why => {
    for (let k = 0; k < count; k++) bars.forEach(set => set[k].setAttribute("d", "M0,0"));
    put(caption, why); saying(svg, d.d + " " + why);
  };
  if (!known(y)) return empty(label(y) + " is not known: " + because(y).join("; "));
  if (isShare && V[y] === 0) return empty(label(y) + " is zero: there is no share of it to show");
  const height = d.bottom - d.top, thick = Math.min(30, height / count * .62), zero = at(d.ax, 0);
  const value = (v, s, x) => {
    // A computed cell that is off is what somebody could have read instead.
    const before = own[x.x], here = before || [V[x.x], 0], only = reached([x.x]), a = v.slice(), b = s.slice();
    return by => { own[x.x] = [here[0] + by, here[1]]; settle(a, b, only); own[x.x] = before; return b[y] & 12 ? undefined : a[y]; };
  };
  const cancelled = sources(y).cancelled;
  const rows = d.rows.map(row => {
    const by = known(row.x) ? value(V, S, row) : () => undefined;
    const amount = row.a !== undefined ? row.a : row.s * Math.abs(V[row.x]);
    // Rounding is no effect; what is left of ways that cancel is as small as their sizes let it be.
    const slope = cancelled.get(row.x), size = slope === undefined ? 0 : slope * Math.max(Math.abs(V[row.x]), amount);
    const moved = v => v !== undefined && Math.abs(v - V[y]) <= 1e-12 * Math.max(Math.abs(V[y]), size) ? V[y] : v;
    return { row, cancels: slope !== undefined, low: moved(by(-amount)), high: moved(by(amount)) };
  });
  // The widest first, as the library draws them; where labels take two lines they stay.
  const labels = svg.querySelectorAll("text.row");
  if (labels.length === count) {
    const wide = r => r.low === undefined || r.high === undefined ? -1 : Math.max(r.low, r.high, V[y]) - Math.min(r.low, r.high, V[y]);
    rows.sort((a, b) => wide(b) - wide(a));
    rows.slice(0, count).forEach((r, k) => put(labels[k], r.row.l + " \u00b1 " + r.row.by));
  }
  const change = v => isShare ? (v / V[y] - 1) * 100 : v - V[y], ofY = v => withUnit(figure(v), unit(y));
  const both = (m, p, u) => [m, p].map(v => (v > 0 ? "+" : "") + figure(v)).join(", ") + (u === "" ? "" : " " + u);
  const line = (row, ...fields) => body.append(figuresRow([row.l, row.by, ...fields]));
  let still = "";
  rows.forEach(({ row, cancels, low, high }, k) => {
    const middle = d.top + (k + .5) / count * height;
    const opening = row.l + " off by " + row.by + ": ";
    if (low === undefined || high === undefined) {
      if (k < count) bars.forEach(set => set[k].setAttribute("d", "M0,0"));
      words.push(opening + "not known");
      line(row, low === undefined ? "not known" : ofY(low), ofY(V[y]), high === undefined ? "not known" : ofY(high), "", ...isShare ? [""] : []);
      return;
    }
    const m = change(low), p = change(high), same = m * p > 0;
    line(row, ofY(low), ofY(V[y]), ofY(high), both(low - V[y], high - V[y], isShare ? unit(y) : d.m), ...isShare ? [both(m, p, "%")] : []);
    if (!row.on) words.push(opening + "the " + d.label + " does not depend on it");
    else if (low === V[y] && high === V[y]) { if (cancels) still = d.still; words.push(opening + "does not move"); }
    else words.push(opening + (ofY(low) === ofY(high) ? ofY(low) + " either way" : ofY(low) + " to " + ofY(high)));
    if (k >= count) return;
    const bar = (v, top, bottom) => barTo(zero, at(d.ax, v), middle, top, bottom);
    bars[0][k].setAttribute("d", bar(m, -thick / 2, same ? -.5 : thick / 2));
    bars[1][k].setAttribute("d", bar(p, same ? .5 : -thick / 2, thick / 2));
    const end = (v, left, text) => svg.append(endLabel(at(d.ax, v), left, middle, text));
    if (same) end(Math.abs(m) > Math.abs(p) ? m : p, m < 0, signed(m, 3) + ", " + signed(p, 3));
    else { const left = m < 0 || m === 0 && p >= 0; end(m, left, signed(m, 3)); end(p, !left, signed(p, 3)); }
  });
  const all = "Exact, one reading at a time, from " + computed(y) + ". " + words.join(". ") + "." + still;
  put(caption, all);
  saying(svg, d.d + " " + all);
};

// Budgets, as trust.rs writes them.
const inSentence = l => {
  const first = l.charAt(0), next = l.charAt(1);
  return next !== "" && next.toLowerCase() === next ? first.toLowerCase() + l.slice(1) : l;
};
const perCent = share => figure(share * 100) + " %";
const budgetRows = (b, cell) => {
  const rows = b.lines.map(l => {
    const a = unit(cell), own = unit(l.i);
    return [l.m ? "the formula of " + inSentence(label(l.i)) : label(l.i), withUnit(figure(l.u), own),
      figure(l.slope) + " " + (own === "" ? a : a + " per " + own), withUnit(figure(Math.abs(part(l))), a), perCent(l.share)];
  });
  if (b.correlated !== 0) rows.push(["correlations", "", "", "", perCent(b.correlated)]);
  return rows;
};
const measureFirst = (b, cell) => {
  const first = b.lines[0];
  if (!first || !(first.share > 0)) return "";
  if (!first.m) return " Measure again first: " + inSentence(label(first.i)) + ".";
  const behind = new Set([cell]);
  for (let i = cell; i >= 0; i--) if (behind.has(i)) for (const o of P.cells[i].o) behind.add(o);
  const instead = Array.from(behind).filter(i => P.cells[i].x && P.cells[i].o.some(o => speaker(o) === first.i))
    .sort((a, b) => P.cells[a].i - P.cells[b].i)[0];
  return instead === undefined ? " Most of it comes from the formula of " + inSentence(label(first.i)) + "."
    : " Measure first, instead of estimating it: " + inSentence(label(instead)) + ".";
};
const budgetWords = (b, cell) => {
  const [v, u] = valueAndUncertainty(V[cell], b.u), w = f => withUnit(f, unit(cell)), bent = limitWords(cell, b);
  return label(cell) + ": " + w(v) + ", standard uncertainty " + w(u) + "; " + coverageWords(cell, b) + "."
    + measureFirst(b, cell) + publishedSentence(b.lines)
    + (b.unstated.length ? " The uncertainty is a lower bound: none is stated for " + names(b.unstated) + "." : "")
    + (bent ? " But " + bent + "." : "");
};
const endOfShare = v => v !== 0 && Math.abs(v) < .05 ? (v > 0 ? "<\u00a00.05" : ">\u00a0\u22120.05") + "\u00a0%"
  : significant(v, Math.abs(v) < 1 ? 2 : 3) + "\u00a0%";
const drawBudget = d => {
  const box = place(d.id), svg = box.querySelector("svg"), b = propagate(d.c);
  const wrong = b.error || (b.lines.length ? "" : limitWords(d.c, b)
    || (b.unstated.length ? "nothing is known of the uncertainty of `" + P.cells[d.c].n + "`"
      : "`" + P.cells[d.c].n + "` has no uncertainty: no reading moves it, since what enters it cancels or is a constant"));
  const rows = wrong ? [] : budgetRows(b, d.c), words = wrong || budgetWords(b, d.c);
  const body = box.querySelector("tbody");
  body.textContent = "";
  body.append(...rows.map(figuresRow));
  const shares = rows.map((r, k) => [r[0], 100 * (k < b.lines.length ? b.lines[k].share : b.correlated)]);
  const labels = svg.querySelectorAll("text.row"), bars = svg.querySelector("path.bar"), count = d.n;
  svg.querySelectorAll(".value").forEach(e => e.remove());
  const height = d.bottom - d.top, thick = Math.min(30, height / count * .62), zero = at(d.ax, 0);
  let all = "";
  for (let k = 0; k < count; k++) {
    const [name, v] = shares[k] || ["", 0], end = at(d.ax, v), middle = d.top + (k + .5) / count * height;
    if (labels.length === count) put(labels[k], name);
    all += barTo(zero, end, middle, -thick / 2, thick / 2);
    if (name) svg.append(endLabel(end, v < 0, middle, endOfShare(v)));
  }
  bars.setAttribute("d", all);
  put(box.querySelector("figcaption"), words);
  saying(svg, d.d + " " + (wrong || shares.map(s => s[0] + " " + significant(s[1], 4) + "\u00a0%").join("; ") + "."));
};

// Serial exams, by the rule of live/serial.rs.
const shareOf = (first, now, u) => {
  const change = first === 0 ? now : (now / first - 1) * 100, sign = change > 0 ? "+" : "";
  return sign + (first === 0 ? withUnit(figure(change), u) : figure(change) + " %");
};
const drawSerial = d => {
  const svg = place(d.id).querySelector("svg"), points = [], said = [];
  d.e.forEach((e, k) => { if (known(e.c)) points.push({ e, k, v: V[e.c], s: propagate(e.c) }); });
  const first = points[0], u = unit(d.e[0].c);
  for (const p of points) {
    if (p === first) continue;
    const apart = !p.s.error && !first.s.error && changeOf(first.s, p.s, first.v / p.v) || { u: 0, freedom: Infinity, unstated: [] };
    const factor = coverageFactor(apart.freedom, d), least = factor * apart.u;
    const bound = !apart.unstated.length && least > 0 ? least : undefined;
    const exceeds = bound !== undefined && Math.abs(p.v - first.v) > bound, share = shareOf(first.v, p.v, u);
    if (exceeds) p.mark = share;
    const unusual = isFinite(apart.freedom) && figure(factor) !== figure(d.normal)
      ? ", factor " + figure(factor) + " at " + apart.freedom + (apart.freedom === 1 ? " degree" : " degrees") + " of freedom" : "";
    said.push(p.e.n + ": " + share + (bound === undefined ? d.open
      : " (" + d.called + " " + shareOf(first.v, first.v + bound, u).replace(/^[+\u2212]+/, "") + unusual + "), " + (exceeds ? d.more : d.within)));
  }
  svg.querySelectorAll(".line,.error-bar,.marker,.ring,.mark-label").forEach(e => e.remove());
  points.forEach(p => { p.x = at(d.ax, p.k); p.y = at(d.ay, p.v); });
  svg.append(drawn("path", { class: "line s1", fill: "none", "stroke-width": "2", "stroke-linejoin": "round", d: points.length ? "M" + points.map(p => px(p.x) + "," + px(p.y)).join("L") : "M0,0" }));
  for (const p of points) {
    if (p.s.u > 0) {
      const low = px(at(d.ay, p.v - p.s.u)), high = px(at(d.ay, p.v + p.s.u)), cap = y => "M" + px(p.x - 3.5) + "," + y + "h7";
      svg.append(drawn("path", { class: "error-bar s1", fill: "none", "stroke-width": "1.5", d: "M" + px(p.x) + "," + low + "V" + high + cap(low) + cap(high) }));
    }
    svg.append(drawn("circle", p.mark ? { class: "ring s1", "stroke-width": "1.8", cx: px(p.x), cy: px(p.y), r: "4.5" } : { class: "marker s1", cx: px(p.x), cy: px(p.y), r: "3.8" }));
    if (p.mark) svg.append(drawn("text", { class: "mark-label", x: px(p.x + 8), y: px(p.y + 4), "font-size": "12" }, p.mark));
  }
  const all = [];
  if (said.length) all.push("Change since " + first.e.n + ": " + said.join("; ") + ".", d.rule);
  const published = publishedSentence(points.flatMap(p => p.s.lines || [])).trim();
  if (published) all.push(published);
  for (const p of points) { const bent = bendWords(p.e.c); if (bent) all.push("In " + p.e.n + ", " + bent + "."); }
  for (const e of d.e) if (!known(e.c)) all.push("Not drawn, " + e.n + ": " + because(e.c).join("; ") + ".");
  put(place(d.id).querySelector("figcaption"), all.join(" "));
  saying(svg, d.d + " " + points.map(p => said_(p)).join(", ") + ". " + all.join(" "));
};
const said_ = p => p.e.n + " " + said(p.e.c);

// Everything the page shows, after each movement.
const start = P.adjust.map(a => own[a.c][0]);
const touched = () => P.adjust.some((a, k) => own[a.c][0] !== start[k]);
const refresh = () => {
  kept.clear();
  settle(V, S);
  for (const d of P.show) {
    const box = place(d.id), rows = box.querySelectorAll("tbody > tr");
    d.cells.forEach((i, k) => showRow(rows[k], i));
    showUnstated(box, d.cells);
    showAdvice(box, d.cells);
  }
  for (const d of P.describe) put(place(d.id).querySelector("p"), describe(d));
  P.curves.forEach(drawCurve);
  P.effects.forEach(drawEffects);
  P.serial.forEach(drawSerial);
  P.budgets.forEach(drawBudget);
  for (const id of P.fixed) {
    const box = place(id);
    let note = box.querySelector("p.as-made");
    if (!note) { note = make("p", { class: "as-made" }, "As the page was made: this part does not follow what is moved."); box.prepend(note); }
    note.hidden = !touched();
  }
  bar.hidden = !touched();
};

// Nobody shall take moved readings for those of the exam, on the screen or on paper.
const bar = make("div", { class: "moved", role: "status" });
const undo = make("button", { type: "button" }, "Back to the readings as recorded");
bar.hidden = true;
bar.append(make("span", {}, "Readings were moved: these are not the results of the readings as recorded."), undo);
document.querySelector("main").prepend(bar);
const reset = [];
undo.addEventListener("click", () => { reset.forEach(f => f()); refresh(); document.getElementById("adjust-0").focus(); });

// Readings that can be moved.
const control = (a, k) => {
  const box = place(a.id).querySelector(".adjust"), c = P.cells[a.c], id = "adjust-" + k;
  const text = v => withUnit(v === start[k] ? figureAsGiven(v) : v.toFixed(a.d).replace("-", "\u2212"), c.u);
  const step = text2 => make("button", { type: "button", "aria-label": text2 });
  const less = step(c.l + " less"), more = step(c.l + " more"), back = step("");
  less.textContent = "\u2212"; more.textContent = "+";
  back.removeAttribute("aria-label");
  back.className = "back";
  back.textContent = "Back to " + text(start[k]);
  const range = make("input", { type: "range", id, min: 0, max: a.n, step: 1 });
  const out = make("output", { for: id, "aria-live": "polite" });
  const nearest = Math.round((start[k] - a.from) / a.by);
  const show = v => {
    put(out, text(v));
    range.setAttribute("aria-valuetext", text(v));
    if (v === start[k]) out.removeAttribute("data-recorded"); else out.setAttribute("data-recorded", text(start[k]));
    less.disabled = v <= a.from; more.disabled = v >= a.from + a.n * a.by - 1e-9 * a.by; back.disabled = v === start[k];
  };
  const move = v => { own[a.c] = [v, own[a.c][1]]; show(v); refresh(); };
  const valueAt = n => +(a.from + n * a.by).toFixed(a.d);
  const go = n => { n = Math.min(a.n, Math.max(0, n)); range.value = n; move(valueAt(n)); };
  range.value = nearest;
  range.addEventListener("input", () => move(valueAt(+range.value)));
  const here = () => (own[a.c][0] - a.from) / a.by;
  less.addEventListener("click", () => go(Math.ceil(here() - 1e-6) - 1));
  more.addEventListener("click", () => go(Math.floor(here() + 1e-6) + 1));
  back.addEventListener("click", () => { range.value = nearest; move(start[k]); range.focus(); });
  box.textContent = "";
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", c.l);
  const head = make("div", { class: "head" }), foot = make("div", { class: "foot" });
  head.append(make("label", { for: id }, c.l), out);
  foot.append(make("span", {}, text(a.from)), back, make("span", {}, text(valueAt(a.n))));
  box.append(head, less, range, more, foot);
  reset.push(() => { range.value = nearest; own[a.c] = [start[k], own[a.c][1]]; show(start[k]); });
  box.classList.add("movable");
  show(start[k]);
};
P.adjust.forEach(control);
refresh();
}
