"""Random formulas with their uncertainty, by two general-purpose libraries.

uncertainties 3.2.3 and GTC 1.5.1 (PyPI) must agree to 1e-12; the agreed values go to
uncertainty.json. Run: python uncertainty.py > uncertainty.json
"""
import json
import random

import GTC
import uncertainties
from uncertainties import umath

NAMES = ["a", "b", "c", "d"]


def tree(rng, depth):
    """Text of a formula in the notation, positive for positive readings."""
    if depth == 0 or rng.random() < 0.15:
        return rng.choice(NAMES)
    kind = rng.choice(["+", "*", "/", "sqrt", "exp", "ln", "^2", "^-1", "^0.7", "sum of squares"])
    x = tree(rng, depth - 1)
    if kind in "+*/":
        return f"({x} {kind} {tree(rng, depth - 1)})"
    if kind == "sqrt":
        return f"sqrt({x})"
    if kind == "exp":
        return f"exp(-({x}) / 10)"
    if kind == "ln":
        return f"ln(1.5 + {x})"
    if kind == "sum of squares":
        return f"(({x})^2 + ({tree(rng, depth - 1)})^2)"
    return f"({x}){kind}"


def by(text, values, functions):
    return eval(text.replace("^", "**"), dict(functions), dict(zip(NAMES, values)))


def main():
    rng = random.Random(20080900)
    cases = []
    while len(cases) < 120:
        text = tree(rng, 4)
        values = [round(rng.uniform(0.5, 4.0), 3) for _ in NAMES]
        us = [round(rng.uniform(0.01, 0.2), 4) for _ in NAMES]
        one = by(text, [uncertainties.ufloat(v, u) for v, u in zip(values, us)],
                 {"sqrt": umath.sqrt, "exp": umath.exp, "ln": umath.log})
        two = by(text, [GTC.ureal(v, u) for v, u in zip(values, us)],
                 {"sqrt": GTC.sqrt, "exp": GTC.exp, "ln": GTC.log})
        u, v = one.std_dev, GTC.uncertainty(two)
        if text in NAMES or not 1e-9 < u < 1e9:
            continue
        assert abs(u - v) <= 1e-12 * u, (text, u, v)
        cases.append({"formula": text, "values": values, "uncertainties": us,
                      "value": one.nominal_value, "standard": u})
    print(json.dumps(cases, indent=0))


main()
