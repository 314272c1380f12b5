// Figures for people, digit for digit as figure.rs writes them: ties go to the even digit.
const exact = (v, d) => {
  const t = v.toFixed(d), x = Math.abs(v).toFixed(Math.min(100, d + 70));
  const rest = x.slice(x.length - Math.min(70, 100 - d));
  if (!/^50*$/.test(rest)) return t;
  const down = x.slice(0, x.length - rest.length).replace(/\.$/, "");
  const even = "02468".includes(down[down.length - 1]);
  return even ? (v < 0 ? "-" : "") + down : t;
};
const exponent = (v, d) => {
  const x = Math.abs(v).toExponential(100), [m, e] = x.split("e");
  let t = v.toExponential(d);
  if (/^50*$/.test(m.slice(2 + d)) && "02468".includes(m[1 + d]))
    t = (v < 0 ? "-" : "") + m.slice(0, 2 + d) + "e" + e;
  return t.replace("e+", "e");
};
const figure = v => {
  const s = Math.abs(v);
  let t;
  if (s === 0) t = "0";
  else if (s >= 1e7 || s < 1e-4) t = exponent(v, 2);
  else t = exact(v, Math.max(0, 2 - +exponent(s, 2).split("e")[1]));
  return t.replace(/-/g, "\u2212");
};
// A number that somebody put in.
const figureAsGiven = v => {
  const s = Math.abs(v), t = s !== 0 && (s < 1e-5 || s >= 1e16) ? v.toExponential().replace("e+", "e") : String(v);
  return t.replace(/[^0-9]/g, "").length <= 6 ? t.replace(/-/g, "\u2212") : figure(v);
};
// A number to a place, as a power of ten.
const far = (x, place) => {
  const n = +exponent(x, 16).split("e")[1] - place;
  if (x === 0 || n < 0) return "0";
  const [m, e] = exponent(x, Math.min(n, 16)).split("e");
  return (e === "0" ? m : m + "e" + e).replace(/-/g, "\u2212");
};
// Numbers to the place of their uncertainty, as uncertainty/rounded.rs does.
const toPlaceOf = (u, all) => {
  if (!(u > 0) || !isFinite(u)) return all.map(figure);
  const d = 1 - +u.toExponential(1).split("e")[1], step = Math.pow(10, -d);
  if (d < -13 || d > 16 || all.some(x => Math.abs(x) >= 1e15)) return all.map(x => far(x, -d));
  const away = x => (x < 0 ? -1 : 1) * Math.round(Math.abs(x));
  return all.map(x => d > 7 && Math.abs(x) < 1e-6 ? far(x, -d) : (d >= 0 ? exact(x, d) : (away(x / step) * step).toFixed(0))
    .replace(/^-(?=[0.]*$)/, "").replace(/-/g, "\u2212"));
};
const valueAndUncertainty = (v, u) => u > 0 && isFinite(u) ? toPlaceOf(u, [v, u]) : [figure(v), "0"];
const withUnit = (f, u) => u === "" ? f : u === "\u00b0" ? f + u : f + " " + u;
// Numbers of charts: significant digits without trailing zeros, as number.rs writes them.
const trim = t => t.includes(".") ? t.replace(/0+$/, "").replace(/\.$/, "") : t;
const significant = (v, n) => {
  if (v === 0) return "0";
  const r = exponent(v, n - 1), [m, e] = r.split("e"), k = +e;
  if (k < -4 || k >= 7)
    return trim(m).replace("-", "\u2212") + "\u00d710" + e.replace(/./g, c =>
      c === "-" ? "\u207b" : "\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079"[+c]);
  const t = Math.abs(+r).toFixed(Math.max(0, n - 1 - k)), [w, f] = t.split(".");
  const g = w.length > 4 ? w.replace(/\B(?=(\d{3})+$)/g, "\u202f") : w;
  return (v < 0 ? "\u2212" : "") + trim(f === undefined ? g : g + "." + f);
};
const signed = (v, n) => (v > 0 ? "+" : "") + significant(v, n);
