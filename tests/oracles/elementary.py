#!/usr/bin/env python3
"""Exact values for the unit tests of src/formula/math.rs.

Needs mpmath (PyPI, written with 1.3.0), which computes to 50 digits here. Writes elementary.txt beside
this file; the arguments come from a seeded generator, so a second run writes the same. (Not math.py, which
would hide the standard module of that name from every script in this folder.)

Each line is a function, its arguments, the binary64 number nearest to the exact result (all as the
16 hexadecimal digits of their bits) and how far the exact result lies from that number, in units of
its last place.
"""

import math
import random
import struct
from pathlib import Path

from mpmath import mp, mpf, nint

mp.dps = 50
LARGEST = float.fromhex("0x1.fffffffffffffp+1023")
SMALLEST_EXPONENT = -1074


def bits(x):
    return struct.pack(">d", x).hex()


def from_bits(pattern):
    return struct.unpack(">d", struct.pack(">Q", pattern))[0]


def nearest(exact):
    """The nearest binary64 number, and the rest in units of its last place."""
    if exact == 0:
        return 0.0, 0.0
    _, exponent = mp.frexp(exact)
    unit = max(int(exponent) - 53, SMALLEST_EXPONENT)
    scaled = mp.ldexp(exact, -unit)
    whole = nint(scaled)
    return math.ldexp(int(whole), unit), float(scaled - whole)


def any_positive(rng):
    """A positive finite number, every exponent equally likely, subnormals too."""
    return from_bits(rng.randrange(1, 0x7FF0000000000000))


def around(rng, center, farthest=52):
    return center * (1 + rng.choice([-1, 1]) * rng.uniform(1, 2) * 2.0 ** -rng.randint(2, farthest))


def ln_arguments(rng):
    for _ in range(120):
        yield any_positive(rng)
    for _ in range(40):
        yield from_bits(rng.randrange(1, 0x0010000000000000))
    for _ in range(100):
        yield around(rng, 1.0)
    for _ in range(50):
        yield around(rng, math.sqrt(0.5) * 2.0 ** rng.randint(-3, 3), 40)
    for _ in range(90):
        yield rng.uniform(0.3, 300.0)


def exp_arguments(rng):
    for _ in range(140):
        yield rng.uniform(-745.1, 709.78)
    for _ in range(60):
        yield rng.uniform(-745.13, -708.4)
    for _ in range(60):
        yield rng.choice([-1, 1]) * rng.uniform(1, 2) * 2.0 ** -rng.randint(0, 60)
    for _ in range(60):
        yield around(rng, (rng.randint(-1000, 1000) + 0.5) * math.log(2), 50)
    for _ in range(80):
        yield rng.uniform(-50.0, 50.0)


def pow_arguments(rng):
    def reaching(base, low, high):
        return base, rng.uniform(low, high) / math.log(base)

    for exponent in (0.425, 0.725, 0.3964, 0.5378, -0.5, 1.7):
        for _ in range(25):
            yield rng.uniform(0.3, 300.0), exponent
    for _ in range(80):
        yield reaching(math.exp(rng.uniform(-20, 20)), -50, 50)
    for _ in range(60):
        yield reaching(any_positive(rng), -744, 709)
    for _ in range(40):
        yield reaching(around(rng, 1.0), -744, 709)
    for _ in range(30):
        yield reaching(rng.uniform(2, 100), -744.4, -708.4)
    for _ in range(20):
        yield from_bits(rng.randrange(1, 0x0010000000000000)), rng.uniform(-0.9, 0.9)
    for _ in range(30):
        yield -rng.uniform(0.3, 30.0), float(rng.randint(-60, 60))


def angle_arguments(rng):
    for _ in range(200):
        yield rng.uniform(-10.0, 10.0)
    for _ in range(60):
        yield float(rng.randint(-10_000, 10_000) * mp.pi / 2)
    for _ in range(80):
        yield rng.choice([-1, 1]) * rng.uniform(1, 2) * 2.0 ** rng.randint(4, 1022)
    for _ in range(60):
        yield rng.choice([-1, 1]) * rng.uniform(1, 2) * 2.0 ** -rng.randint(0, 40)


FUNCTIONS = {
    "ln": (mp.log, ln_arguments),
    "exp": (mp.exp, exp_arguments),
    "pow": (mp.power, pow_arguments),
    "cos": (mp.cos, angle_arguments),
    "sin": (mp.sin, angle_arguments),
}


def lines():
    for seed, (name, (function, arguments)) in enumerate(FUNCTIONS.items()):
        for given in arguments(random.Random(seed)):
            given = given if isinstance(given, tuple) else (given,)
            exact = function(*map(mpf, given))
            if abs(exact) > LARGEST:
                continue
            value, rest = nearest(exact)
            yield " ".join([name, *map(bits, given), bits(value), f"{rest:.4f}"])


if __name__ == "__main__":
    target = Path(__file__).with_suffix(".txt")
    head = "# Written by elementary.py: function, arguments, nearest result (bits), rest in units of its last place"
    target.write_text("\n".join([head, *lines()]) + "\n")
