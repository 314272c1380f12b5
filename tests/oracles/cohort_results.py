"""Recomputes the rows of the bundled cohorts in SQL from the published formulas.

    pip install duckdb        # made with duckdb 2.0.1
    python tests/oracles/cohort_results.py > tests/oracles/cohort_results.csv

Nothing of semilunar is used. One line for each row that can be used, numbers with all their digits.
Run from the top of the project.

Sources: stroke volume from area and velocity-time integral, Quinones 2002 J Am Soc Echocardiogr 15:167-84;
body surface area, Du Bois 1916; mean pressure as a third of the pulse pressure above diastolic, and resistance
as pressure drop over output, handbook physiology; millimeter of mercury 133.322 Pa as UCUM has it (the
conventional one of 133.322387415 Pa is 3e-6 larger).
The stand-in for an unobtainable diameter, the limit of 3 beats in irregular rhythm and the refusal of poor
signals are common practice, no source.
"""

import csv
import sys

import duckdb

FILES = ["first_cohort", "fluid_challenges"]
# What no patient has: rows with it are set aside.
POSSIBLE = {
    "height [cm]": (20, 272),
    "weight [kg]": (0.3, 650),
    "lvot_diameter [cm]": (0.3, 5),
    "before.lvot_diameter [cm]": (0.3, 5),
    "after.lvot_diameter [cm]": (0.3, 5),
    "before.lvot_vti [cm]": (0.5, 100),
    "after.lvot_vti [cm]": (0.5, 100),
    "before.heart_rate [/min]": (10, 350),
    "after.heart_rate [/min]": (10, 350),
    "before.systolic_pressure [mm[Hg]]": (10, 350),
    "before.diastolic_pressure [mm[Hg]]": (5, 250),
    "after.systolic_pressure [mm[Hg]]": (10, 350),
    "after.diastolic_pressure [mm[Hg]]": (5, 250),
    "central_venous_pressure [mm[Hg]]": (-20, 60),
    "fluid_given [mL]": (0, 10000),
}
WORDS = "('', 'unobtainable')"


def number(heading):
    return f'try_cast("{heading}" as double)'


def fits(heading, low, high):
    text = f'"{heading}"'
    return f"({text} in {WORDS} or coalesce({number(heading)} between {low} and {high}, false))"


def exam(when):
    """SQL of one exam's values."""
    own = number(f"{when}.lvot_diameter [cm]")
    shared = number("lvot_diameter [cm]")
    estimate = "case when \"lvot_diameter [cm]\" = 'unobtainable' and bsa is not null then least(greatest(bsa, 1.8), 2.2) end"
    diameter = f"coalesce({own}, {shared}, {estimate})"
    beats = number(f"{when}.lvot_vti (n)")
    vti = (
        f"case when \"{when}.signal\" = 'poor' then null"
        f" when rhythm = 'irregular' and coalesce({beats}, 1) < 3 then null"
        f" else {number(when + '.lvot_vti [cm]')} end"
    )
    sv = f"pi() * ({diameter} / 2) * ({diameter} / 2) * ({vti})"
    rate = number(f"{when}.heart_rate [/min]")
    co = f"({sv}) * {rate} / 1000"
    low, high = number(f"{when}.diastolic_pressure [mm[Hg]]"), number(f"{when}.systolic_pressure [mm[Hg]]")
    mean = f"({low} + ({high} - {low}) / 3)"
    drop = f"({mean} - {number('central_venous_pressure [mm[Hg]]')})"
    svr = f"{drop} * 133.322 / (({co}) * 1e-3 / 60) * 1e-5"
    return {
        f"{when}.stroke_volume": sv,
        f"{when}.cardiac_output": co,
        f"{when}.cardiac_index": f"({co}) / bsa",
        f"{when}.mean_pressure": mean,
        f"{when}.systemic_vascular_resistance": svr,
    }


def main():
    cells = {"body_surface_area": "bsa", **exam("before"), **exam("after")}
    before, after = cells["before.stroke_volume"], cells["after.stroke_volume"]
    cells["change.stroke_volume"] = f"(({after}) - ({before})) / ({before}) * 100"
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["file", "row", *cells])
    for name in FILES:
        possible = " and ".join(fits(heading, *bounds) for heading, bounds in POSSIBLE.items())
        query = f"""
            with read as (
                select *, row_number() over () as row
                from read_csv('data/{name}.csv', all_varchar = true, nullstr = '\\x01', parallel = false)
            ), sized as (
                select *, 0.007184 * pow({number('weight [kg]')}, 0.425) * pow({number('height [cm]')}, 0.725) as bsa
                from read where {possible}
            )
            select row, {", ".join(cells.values())} from sized order by row
        """
        for row in duckdb.sql(query).fetchall():
            out.writerow([name, row[0], *("" if v is None else repr(v) for v in row[1:])])


main()
