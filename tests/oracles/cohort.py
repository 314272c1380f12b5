"""Recomputes the invented cohorts from their CSV files with plain formulas, and says whether they look like a unit.

    pip install pandas        # made with pandas 3.1.1, numpy 2.4.6
    python tests/oracles/cohort.py > tests/oracles/cohort.json

Nothing of semilunar is used. Comparisons with the literature are for orientation: the cohorts are invented.
Run from the top of the project.
"""

import json
import math

import pandas as pd

NUMBERS = {
    "height [cm]": (50, 250),
    "weight [kg]": (20, 350),
    "lvot_diameter [cm]": (0.5, 5),
    "before.lvot_diameter [cm]": (0.5, 5),
    "after.lvot_diameter [cm]": (0.5, 5),
    "before.lvot_vti [cm]": (1, 60),
    "after.lvot_vti [cm]": (1, 60),
    "before.lvot_vti (n)": (1, 30),
    "after.lvot_vti (n)": (1, 30),
    "before.heart_rate [/min]": (20, 300),
    "after.heart_rate [/min]": (20, 300),
    "before.systolic_pressure [mm[Hg]]": (20, 300),
    "before.diastolic_pressure [mm[Hg]]": (10, 200),
    "after.systolic_pressure [mm[Hg]]": (20, 300),
    "after.diastolic_pressure [mm[Hg]]": (10, 200),
    "central_venous_pressure [mm[Hg]]": (-10, 60),
    "fluid_given [mL]": (0, 5000),
    "minutes_after_fluid": (0, 600),
    "pulse_pressure_variation [%]": (0, 100),
    "passive_leg_raise_change [%]": (-90, 200),
}


def body_surface(height, weight):
    """Du Bois & Du Bois 1916, m2."""
    return 0.007184 * weight**0.425 * height**0.725


def diameter_from_body_size(surface):
    """The stand-in for a diameter that cannot be measured: common practice, no source."""
    return surface.clip(1.8, 2.2)


def numbers_of(cells):
    """Numbers, why a cell is not one, and whether the word for an unobtainable diameter stood there."""
    word = cells == "unobtainable"
    stated = cells.where(~word & (cells != ""))
    value = pd.to_numeric(stated, errors="coerce")
    text = stated.notna() & value.isna()
    return value, text, word


def load(path):
    raw = pd.read_csv(path, dtype=str, keep_default_na=False)
    rows = raw.copy()
    text, impossible, millimeters = (pd.Series(False, index=raw.index) for _ in range(3))
    for column, (low, high) in NUMBERS.items():
        value, is_text, word = numbers_of(raw[column])
        outside = value.notna() & ~value.between(low, high)
        looks_like_mm = outside & value.between(10, 40) & ("diameter" in column)
        text |= is_text
        millimeters |= looks_like_mm
        impossible |= outside & ~looks_like_mm
        rows[column] = value
        if column == "lvot_diameter [cm]":
            rows["unobtainable"] = word
    rows["set_aside"] = text | impossible | millimeters
    counts = {
        "text_in_number": int(text.sum()),
        "impossible_value": int(impossible.sum()),
        "millimeters": int(millimeters.sum()),
        "rows": int(rows["set_aside"].sum()),
    }
    return raw, rows, counts


def with_flow(rows):
    surface = body_surface(rows["height [cm]"], rows["weight [kg]"])
    estimated = diameter_from_body_size(surface).where(rows["unobtainable"])
    for exam in ("before", "after"):
        own = rows[f"{exam}.lvot_diameter [cm]"]
        diameter = own.fillna(rows["lvot_diameter [cm]"]).fillna(estimated)
        vti = rows[f"{exam}.lvot_vti [cm]"]
        rate = rows[f"{exam}.heart_rate [/min]"]
        rows[f"{exam}.diameter"] = diameter
        # cm2 * cm = mL
        rows[f"{exam}.sv"] = math.pi / 4 * diameter**2 * vti
        rows[f"{exam}.co"] = rows[f"{exam}.sv"] * rate / 1000
        systolic = rows[f"{exam}.systolic_pressure [mm[Hg]]"]
        diastolic = rows[f"{exam}.diastolic_pressure [mm[Hg]]"]
        rows[f"{exam}.map"] = diastolic + (systolic - diastolic) / 3
    rows["bsa"] = surface
    rows["change.sv"] = 100 * (rows["after.sv"] / rows["before.sv"] - 1)
    rows["change.vti"] = 100 * (rows["after.lvot_vti [cm]"] / rows["before.lvot_vti [cm]"] - 1)
    rows["change.co"] = 100 * (rows["after.co"] / rows["before.co"] - 1)
    return rows


def area_under_roc(score, positive):
    """Share of pairs in which the positive scores higher, ties half (Mann and Whitney)."""
    known = score.notna() & positive.notna()
    up, down = score[known & (positive == 1)], score[known & (positive == 0)]
    if up.empty or down.empty:
        return None
    wins = sum((u > down).sum() + 0.5 * (u == down).sum() for u in up)
    return {"auc": wins / (len(up) * len(down)), "responders": len(up), "others": len(down)}


def spread(values):
    values = values.dropna()
    if values.empty:
        return None
    names = ("p05", "p25", "median", "p75", "p95")
    quantiles = dict(zip(names, values.quantile([0.05, 0.25, 0.5, 0.75, 0.95]).tolist()))
    return {"n": len(values), "mean": values.mean(), "sd": values.std(), "min": values.min(), **quantiles, "max": values.max()}


def share(condition, of):
    known = of.notna()
    return {"n": int(known.sum()), "share": float(condition[known].mean()) if known.any() else None}


def correlation(rows, one, two):
    both = rows[[one, two]].dropna()
    return {"n": len(both), "r": both[one].corr(both[two])}


def least_significant_change(repeats):
    same = repeats["operator"] == repeats["operator_after"]
    tidy = (repeats["rhythm"] == "regular") & (repeats["before.signal"] == "good") & (repeats["after.signal"] == "good")
    result = {}
    for name, chosen in (("one_operator", same & tidy), ("two_operators", ~same & tidy)):
        change = repeats.loc[chosen, "change.vti"].dropna()
        result[name] = {"n": len(change), "percent": 1.96 * math.sqrt((change**2).mean()) if len(change) else None}
    return result


def responders(fluid, column="change.sv"):
    change = fluid[column]
    volume, minutes = fluid["fluid_given [mL]"], fluid["minutes_after_fluid"]
    parts = {
        "all": change.notna(),
        "under_500_mL": volume < 500,
        "500_mL": volume == 500,
        "over_500_mL": volume > 500,
        "within_9_min": minutes < 10,
        "from_10_min": minutes >= 10,
    }
    return {name: {f"over_{cut}": share(change[part] > cut, change[part]) for cut in (10, 15)} for name, part in parts.items()}


def summary(path):
    raw, rows, counts = load(path)
    used = with_flow(rows[~rows["set_aside"]].copy())
    fluid = used[used["purpose"] == "fluid"].copy()
    ventilated_regular = fluid[fluid["rhythm"] == "regular"]
    positive = (fluid["change.sv"] > 10).astype(float).where(fluid["change.sv"].notna())
    blank = (raw[raw["purpose"] == "fluid"] == "").mean()
    own = rows["before.lvot_diameter [cm]"].notna()
    return {
        "file": path,
        "rows": len(rows),
        "patients": int(rows["patient"].nunique()),
        "purposes": rows["purpose"].value_counts().sort_index().to_dict(),
        "operators": rows["operator"].value_counts().sort_index().to_dict(),
        "set_aside": counts,
        "used": len(used),
        "challenges_per_patient": spread(rows[rows["purpose"] == "fluid"].groupby("patient").size()),
        "weight": spread(used.groupby("patient")["weight [kg]"].first()),
        "bsa": spread(used.groupby("patient")["bsa"].first()),
        "diameter": spread(used["before.diameter"].where(~used["unobtainable"])),
        "vti_before": spread(fluid["before.lvot_vti [cm]"]),
        "vti_all": spread(pd.concat([used["before.lvot_vti [cm]"], used["after.lvot_vti [cm]"]])),
        "sv_before": spread(fluid["before.sv"]),
        "sv_all": spread(pd.concat([used["before.sv"], used["after.sv"]])),
        "co_before": spread(fluid["before.co"]),
        "ci_before": spread(fluid["before.co"] / fluid["bsa"]),
        "heart_rate_before": spread(fluid["before.heart_rate [/min]"]),
        "mean_pressure_before": spread(fluid["before.map"]),
        "central_venous_pressure": spread(fluid["central_venous_pressure [mm[Hg]]"]),
        "change_sv": spread(fluid["change.sv"]),
        "change_vti": spread(fluid["change.vti"]),
        "volume": spread(fluid["fluid_given [mL]"]),
        "volumes": {str(int(k)): int(v) for k, v in fluid["fluid_given [mL]"].value_counts().sort_index().items()},
        "minutes": spread(fluid["minutes_after_fluid"]),
        "responders_by_sv": responders(fluid),
        "responders_by_vti": responders(fluid, "change.vti"),
        "leg_raise": spread(fluid["passive_leg_raise_change [%]"]),
        "leg_raise_auc_sv_10": area_under_roc(fluid["passive_leg_raise_change [%]"], positive),
        "variation": spread(fluid["pulse_pressure_variation [%]"]),
        "variation_in_4_to_17": share(fluid["pulse_pressure_variation [%]"].between(4, 17), fluid["pulse_pressure_variation [%]"]),
        "variation_auc_sv_10_regular": area_under_roc(ventilated_regular["pulse_pressure_variation [%]"], positive[ventilated_regular.index]),
        "least_significant_change_of_vti": least_significant_change(used[used["purpose"] == "repeat_without_fluid"]),
        "correlations": {
            "diameter_bsa": correlation(used[~used["unobtainable"]], "before.diameter", "bsa"),
            "sv_bsa": correlation(fluid, "before.sv", "bsa"),
            "sv_before_change": correlation(fluid, "before.sv", "change.sv"),
            "volume_change": correlation(fluid, "fluid_given [mL]", "change.sv"),
            "minutes_change": correlation(fluid, "minutes_after_fluid", "change.sv"),
            "cvp_change": correlation(fluid, "central_venous_pressure [mm[Hg]]", "change.sv"),
            "variation_change": correlation(ventilated_regular, "pulse_pressure_variation [%]", "change.sv"),
            "leg_raise_change": correlation(fluid, "passive_leg_raise_change [%]", "change.sv"),
        },
        "irregular": share(used["rhythm"] == "irregular", used["rhythm"].replace("", None)),
        "unobtainable": int(rows["unobtainable"].sum()),
        "diameter_in_each_exam": int(own.sum()),
        "poor_signals": int((rows["before.signal"] == "poor").sum() + (rows["after.signal"] == "poor").sum()),
        "blank_share_in_fluid_rows": {name: value for name, value in blank.items() if value > 0},
    }


def rounded(value):
    """Six significant digits: enough to compare, few enough to read."""
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, float):
        return None if math.isnan(value) else float(f"{value:.6g}")
    return value.item() if hasattr(value, "item") else value


if __name__ == "__main__":
    print(json.dumps([rounded(summary(f"data/{name}.csv")) for name in ("fluid_challenges", "first_cohort")], indent=1))
