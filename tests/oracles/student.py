"""Quantiles of Student's t: by mpmath in 50 digits, and by SciPy's `stats.t.ppf` beside them.

mpmath 1.3.0 and SciPy 1.17.1 (PyPI). SciPy must agree to 1e-9, where it is good to that (near the
middle it is good to 1e-9 of the scale, not of the quantile); mpmath's go to student.json. Run: python student.py > student.json
"""
import json

import mpmath
from scipy import stats

mpmath.mp.dps = 50
FREEDOMS = ["1", "1.5", "2", "3", "4", "5.5", "7", "10", "29", "30", "60", "99.9", "100", "250",
            "999", "1000", "1000.5", "1001", "2500", "1e5", "9999999", "10000001", "1e9"]
LEVELS = ["1e-6", "0.1", "0.5", "0.6827", "0.9", "0.95", "0.954499736", "0.99", "0.999", "0.999999"]


def within(t, freedom):
    """The share between -t and t."""
    x = t * t / (freedom + t * t)
    return mpmath.betainc(mpmath.mpf(1) / 2, freedom / 2, 0, x, regularized=True)


def main():
    cases = []
    for freedom in FREEDOMS:
        for level in LEVELS:
            # The double that a program is given for it, and what it means exactly.
            probability = (1 + float(level)) / 2
            exact = 2 * mpmath.mpf(probability) - 1
            by_scipy = float(stats.t.ppf(probability, float(freedom)))
            value = mpmath.findroot(lambda t: within(t, mpmath.mpf(freedom)) - exact, by_scipy)
            assert abs(value - by_scipy) <= 1e-9 * (1 + value), (freedom, level, value, by_scipy)
            cases.append({"freedom": float(freedom), "probability": probability,
                          "quantile": float(value)})
    print("[" + ",\n".join(json.dumps(case) for case in cases) + "]")


main()
