// States are bits, as in status.rs: 1 estimated, 2 assumed, 4 missing, 8 faulty.
const K = (v, s) => Math.abs(v) < Infinity || s & 4 ? s : s | 8;
const Z = s => s & 8 ? 8 : s & 4 ? 4 : s & 2 ? 2 : s & 1;
const near = (a, b) => Math.abs(a - b) <= 1e-9 * Math.max(Math.abs(a), Math.abs(b));
const LT = (a, b) => +(a < b && !near(a, b));
const LE = (a, b) => +(a < b || near(a, b));
const C = (a, l, h) => l > h ? NaN : a < l ? l : a > h ? h : a;
const D = (v, s, k) => !(s & 12) && v === k;
const W = (a, n) => {
  let r = Math.abs(n), q = a, p = 1;
  while (r > 0) {
    if (r % 2) p *= q;
    r = Math.floor(r / 2);
    if (r > 0) q *= q;
  }
  return n < 0 ? 1 / p : p;
};
// Used, and whether on the way along which the result is not known.
const U = (u, s, t) => u & 2 && s & 12 && t & 12 ? 3 : 1;
