"""Expected values of the catalogue's derived cells, for catalogue.json.

Straight from the published formulas, in plain Python floats and in the units of the publications, with the
conversions written out here: nothing is read from the project. Run it from anywhere; it writes the file beside it.

    python3 tests/oracles/catalogue.py

Sources of the formulas ("memory": not looked up again):
- Body surface area: Du Bois 1916 Arch Intern Med 17:863-71; Mosteller 1987 N Engl J Med 317:1098; Haycock 1978
  J Pediatr 93:62-6; Gehan & George 1970 Cancer Chemother Rep 54:225-35; Boyd 1935 (coefficients agree with the
  documentation of the general-purpose R package admiral, compute_bsa).
- Outflow area, stroke volume, cardiac output: Baumgartner 2009 J Am Soc Echocardiogr 22:1-23; Quinones 2002
  J Am Soc Echocardiogr 15:167-84.
- Diameter from body size: common practice, no source.
- Mean pressure by one third: Chemla 2002 Clin Sci 103:7-13. Resistance: textbook definition (memory).
- Elastance: Kelly 1992 Circulation 86:513-21 (factor 0.9 from memory). SV/PP: Chemla 1998 Am J Physiol 274:H500-5.
- Power: Fincke 2004 J Am Coll Cardiol 44:340-8, in exact units instead of the divisor 451.
- Body weights: ARDS Network 2000 N Engl J Med 342:1301-8; Devine 1974 Drug Intell Clin Pharm 8:650-5 (memory).

Every patient is invented.

Shape of the file: a list of exams. `inputs` maps a name to {"value", "unit"}, to {"beats" or "largest": [...], "unit"}
(the mean and the largest of these beats), or to "unobtainable"; `findings` maps a name to its word; `expected` gives
each cell that can be computed, in the unit the catalogue shows it in; `missing` names derived cells without a value.
The tests allow 1e-12 relative: the order of operations differs between the two computations.
"""

import json
import math
from pathlib import Path

# UCUM: the meter of mercury column is 133.3220 kPa.
PASCAL_PER_MMHG = 133.3220
# How many of the catalogue's unit one of the exam's unit is.
TO_CATALOGUE = {
    ("height", "cm"): 1.0,
    ("height", "m"): 100.0,
    ("height", "[in_i]"): 2.54,
    ("weight", "kg"): 1.0,
    ("weight", "g"): 1e-3,
    ("weight", "[lb_av]"): 0.45359237,
    ("admission_weight", "kg"): 1.0,
    ("body_surface_area", "m2"): 1.0,
    ("lvot_diameter", "cm"): 1.0,
    ("lvot_diameter", "mm"): 0.1,
    ("lvot_vti", "cm"): 1.0,
    ("lvot_vti", "m"): 100.0,
    ("lvot_vti", "mm"): 0.1,
    ("heart_rate", "/min"): 1.0,
    ("heart_rate", "Hz"): 60.0,
    ("doppler_angle", "deg"): 1.0,
    ("doppler_angle", "rad"): 180.0 / math.pi,
    ("systolic_pressure", "mm[Hg]"): 1.0,
    ("systolic_pressure", "kPa"): 1000.0 / PASCAL_PER_MMHG,
    ("diastolic_pressure", "mm[Hg]"): 1.0,
    ("diastolic_pressure", "kPa"): 1000.0 / PASCAL_PER_MMHG,
    ("mean_pressure", "mm[Hg]"): 1.0,
    ("central_venous_pressure", "mm[Hg]"): 1.0,
    ("central_venous_pressure", "cm[H2O]"): 98.0665 / PASCAL_PER_MMHG,
    ("fluid_given", "mL"): 1.0,
    ("fluid_given", "L"): 1000.0,
}
DERIVED = [
    "body_surface_area", "body_surface_area_mosteller", "body_surface_area_haycock",
    "body_surface_area_gehan_george", "body_surface_area_boyd", "lvot_diameter_from_body_size", "lvot_diameter",
    "lvot_area", "velocity_underestimate", "stroke_distance", "minute_distance", "stroke_volume",
    "stroke_volume_index", "cardiac_output", "cardiac_index", "pulse_pressure", "mean_pressure",
    "systemic_vascular_resistance", "systemic_vascular_resistance_index", "total_peripheral_resistance",
    "stroke_volume_per_pulse_pressure", "arterial_elastance", "cardiac_power_output", "cardiac_power_index",
    "predicted_body_weight", "ideal_body_weight", "fluid_per_weight",
]


def reading(exam, name):
    """The exam's reading in the catalogue's unit, or None."""
    given = exam["inputs"].get(name)
    if given is None or given == "unobtainable":
        return None
    factor = TO_CATALOGUE[(name, given["unit"])]
    if "beats" in given:
        return factor * sum(given["beats"]) / len(given["beats"])
    if "largest" in given:
        return factor * max(given["largest"])
    return factor * given["value"]


def body_surface_areas(height_cm, weight_kg):
    grams = 1000.0 * weight_kg
    return {
        "body_surface_area": 0.007184 * weight_kg**0.425 * height_cm**0.725,
        "body_surface_area_mosteller": math.sqrt(height_cm * weight_kg / 3600.0),
        "body_surface_area_haycock": 0.024265 * weight_kg**0.5378 * height_cm**0.3964,
        "body_surface_area_gehan_george": 0.0235 * weight_kg**0.51456 * height_cm**0.42246,
        "body_surface_area_boyd": 0.0003207 * height_cm**0.3 * grams ** (0.7285 - 0.0188 * math.log10(grams)),
    }


def diameter_from_body_size(area_m2):
    return min(2.2, max(1.8, area_m2))


def usable_vti(exam):
    """The VTI, unless signal, rhythm or number of beats speak against it."""
    given = exam["inputs"].get("lvot_vti")
    findings = exam["findings"]
    if given is None or findings.get("signal") == "poor":
        return None
    if findings.get("rhythm") == "irregular" and ("largest" in given or len(given.get("beats", [0])) < 3):
        return None
    return reading(exam, "lvot_vti")


def weights_from_height(height_cm, sex):
    start = {"female": 45.5, "male": 50.0}[sex]
    return {
        "predicted_body_weight": start + 0.91 * (height_cm - 152.4),
        "ideal_body_weight": start + 2.3 * (height_cm / 2.54 - 60.0),
    }


def with_value(cells, names):
    return all(cells.get(name) is not None for name in names)


def resistance(pressure_mmhg, flow_l_min):
    """dyn s / cm5: 1 dyn s / cm5 is 1e5 Pa s / m3."""
    return pressure_mmhg * PASCAL_PER_MMHG / (flow_l_min * 1e-3 / 60.0) * 1e-5


def size_cells(exam, cells):
    child = exam["findings"].get("age_group") == "child"
    height, weight = reading(exam, "height"), reading(exam, "weight")
    if height is not None and weight is not None:
        cells.update(body_surface_areas(height, weight))
    if reading(exam, "body_surface_area") is not None:
        cells["body_surface_area"] = reading(exam, "body_surface_area")
    if with_value(cells, ["body_surface_area"]) and not child:
        cells["lvot_diameter_from_body_size"] = diameter_from_body_size(cells["body_surface_area"])
    sex = exam["findings"].get("sex")
    if height is not None and height >= 130.0 and sex is not None and not child:
        cells.update(weights_from_height(height, sex))


def flow_cells(exam, cells):
    diameter = reading(exam, "lvot_diameter")
    if exam["inputs"].get("lvot_diameter") == "unobtainable":
        diameter = cells.get("lvot_diameter_from_body_size")
    if diameter is not None:
        cells["lvot_diameter"] = diameter
        cells["lvot_area"] = math.pi * diameter**2 / 4.0
    angle = reading(exam, "doppler_angle")
    if angle is not None:
        cells["velocity_underestimate"] = 100.0 * (1.0 - math.cos(math.radians(angle)))
    vti, rate = usable_vti(exam), reading(exam, "heart_rate")
    if vti is not None:
        cells["stroke_distance"] = vti
        if rate is not None:
            cells["minute_distance"] = vti * rate
    if with_value(cells, ["lvot_area", "stroke_distance"]):
        cells["stroke_volume"] = cells["lvot_area"] * vti
        if rate is not None:
            cells["cardiac_output"] = cells["stroke_volume"] * rate / 1000.0
    for index, whole in [("stroke_volume_index", "stroke_volume"), ("cardiac_index", "cardiac_output")]:
        if with_value(cells, [whole, "body_surface_area"]):
            cells[index] = cells[whole] / cells["body_surface_area"]


def pressure_cells(exam, cells):
    systolic, diastolic = reading(exam, "systolic_pressure"), reading(exam, "diastolic_pressure")
    if systolic is not None and diastolic is not None and systolic > diastolic:
        cells["pulse_pressure"] = systolic - diastolic
        cells["mean_pressure"] = diastolic + (systolic - diastolic) / 3.0
    if reading(exam, "mean_pressure") is not None:
        cells["mean_pressure"] = reading(exam, "mean_pressure")
    venous = reading(exam, "central_venous_pressure")
    if with_value(cells, ["mean_pressure", "cardiac_output"]):
        mean, output = cells["mean_pressure"], cells["cardiac_output"]
        cells["total_peripheral_resistance"] = resistance(mean, output)
        cells["cardiac_power_output"] = mean * PASCAL_PER_MMHG * (output * 1e-3 / 60.0)
        if venous is not None and venous < mean:
            cells["systemic_vascular_resistance"] = resistance(mean - venous, output)
    if with_value(cells, ["systemic_vascular_resistance", "cardiac_index"]):
        # The published form: pressure over cardiac index.
        cells["systemic_vascular_resistance_index"] = resistance(
            cells["mean_pressure"] - venous, cells["cardiac_index"])
    if with_value(cells, ["cardiac_power_output", "body_surface_area"]):
        cells["cardiac_power_index"] = cells["cardiac_power_output"] / cells["body_surface_area"]
    if with_value(cells, ["stroke_volume", "pulse_pressure"]):
        cells["stroke_volume_per_pulse_pressure"] = cells["stroke_volume"] / cells["pulse_pressure"]
    if with_value(cells, ["stroke_volume"]) and systolic is not None:
        cells["arterial_elastance"] = 0.9 * systolic / cells["stroke_volume"]


def fluid_cells(exam, cells):
    basis, given = exam["findings"].get("fluid_weight_basis"), reading(exam, "fluid_given")
    weights = {
        "actual": reading(exam, "weight"),
        "admission": reading(exam, "admission_weight"),
        "predicted": cells.get("predicted_body_weight"),
        "ideal": cells.get("ideal_body_weight"),
    }
    if basis is not None and given is not None and weights[basis] is not None:
        cells["fluid_per_weight"] = given / weights[basis]


def judged(exam):
    cells = {}
    for topic in (size_cells, flow_cells, pressure_cells, fluid_cells):
        topic(exam, cells)
    expected = {name: cells[name] for name in DERIVED if name in cells}
    missing = [name for name in DERIVED if name not in cells]
    return {**exam, "expected": expected, "missing": missing}


def q(value, unit):
    return {"value": value, "unit": unit}


def exam(name, findings, **inputs):
    return {"exam": name, "inputs": inputs, "findings": findings}


EXAMS = [
    exam("woman, usual flow", {"sex": "female", "age_group": "adult", "rhythm": "regular", "signal": "good",
                               "fluid_weight_basis": "actual"},
         height=q(165, "cm"), weight=q(62, "kg"), lvot_diameter=q(1.9, "cm"),
         lvot_vti={"beats": [20.4, 21.1, 19.8], "unit": "cm"}, heart_rate=q(72, "/min"), doppler_angle=q(10, "deg"),
         systolic_pressure=q(118, "mm[Hg]"), diastolic_pressure=q(74, "mm[Hg]"),
         central_venous_pressure=q(5, "mm[Hg]"), fluid_given=q(250, "mL")),
    exam("man, usual flow, diameter in millimeters", {"sex": "male", "rhythm": "regular",
                                                       "fluid_weight_basis": "predicted"},
         height=q(1.82, "m"), weight=q(84, "kg"), lvot_diameter=q(21.5, "mm"),
         lvot_vti={"beats": [19.2, 18.7, 19.9, 19.4], "unit": "cm"}, heart_rate=q(64, "/min"),
         doppler_angle=q(0, "deg"), systolic_pressure=q(16.8, "kPa"), diastolic_pressure=q(10.4, "kPa"),
         central_venous_pressure=q(8, "cm[H2O]"), fluid_given=q(0.5, "L")),
    exam("small woman, low flow, irregular rhythm", {"sex": "female", "rhythm": "irregular", "signal": "good",
                                                      "fluid_weight_basis": "admission"},
         height=q(148, "cm"), weight=q(43.5, "kg"), admission_weight=q(41, "kg"), lvot_diameter=q(1.65, "cm"),
         lvot_vti={"beats": [9.1, 12.4, 7.8, 11.0, 10.2], "unit": "cm"}, heart_rate=q(118, "/min"),
         doppler_angle=q(25, "deg"), systolic_pressure=q(88, "mm[Hg]"), diastolic_pressure=q(57, "mm[Hg]"),
         mean_pressure=q(66, "mm[Hg]"), central_venous_pressure=q(14, "mm[Hg]"), fluid_given=q(100, "mL")),
    exam("large man, high flow", {"sex": "male", "rhythm": "regular", "fluid_weight_basis": "ideal"},
         height=q(201, "cm"), weight=q(138, "kg"), lvot_diameter=q(2.55, "cm"),
         lvot_vti={"largest": [26.3, 25.1, 27.4], "unit": "cm"}, heart_rate=q(104, "/min"),
         doppler_angle=q(0.3, "rad"), systolic_pressure=q(102, "mm[Hg]"), diastolic_pressure=q(48, "mm[Hg]"),
         central_venous_pressure=q(9, "mm[Hg]"), fluid_given=q(500, "mL")),
    exam("woman with obesity, inches and pounds", {"sex": "female", "rhythm": "regular",
                                                    "fluid_weight_basis": "predicted"},
         height=q(64, "[in_i]"), weight=q(262, "[lb_av]"), lvot_diameter=q(2.0, "cm"), lvot_vti=q(0.187, "m"),
         heart_rate=q(1.5, "Hz"), doppler_angle=q(20, "deg"), systolic_pressure=q(141, "mm[Hg]"),
         diastolic_pressure=q(86, "mm[Hg]"), central_venous_pressure=q(11, "mm[Hg]"), fluid_given=q(250, "mL")),
    exam("man, very low flow, high resistance", {"sex": "male", "rhythm": "regular"},
         height=q(173, "cm"), weight=q(68, "kg"), lvot_diameter=q(1.95, "cm"),
         lvot_vti={"beats": [8.2, 7.9, 8.4], "unit": "cm"}, heart_rate=q(112, "/min"),
         systolic_pressure=q(94, "mm[Hg]"), diastolic_pressure=q(70, "mm[Hg]"),
         central_venous_pressure=q(17, "mm[Hg]")),
    exam("child, diameter measured", {"sex": "male", "age_group": "child", "rhythm": "regular",
                                      "fluid_weight_basis": "actual"},
         height=q(121, "cm"), weight=q(23000, "g"), lvot_diameter=q(14.2, "mm"), lvot_vti=q(171, "mm"),
         heart_rate=q(95, "/min"), doppler_angle=q(5, "deg"), systolic_pressure=q(101, "mm[Hg]"),
         diastolic_pressure=q(62, "mm[Hg]"), fluid_given=q(230, "mL")),
    exam("irregular rhythm, two beats: no flow", {"sex": "male", "rhythm": "irregular"},
         height=q(176, "cm"), weight=q(79, "kg"), lvot_diameter=q(2.1, "cm"),
         lvot_vti={"beats": [14.0, 18.5], "unit": "cm"}, heart_rate=q(97, "/min"),
         systolic_pressure=q(122, "mm[Hg]"), diastolic_pressure=q(71, "mm[Hg]"),
         central_venous_pressure=q(6, "mm[Hg]")),
    exam("irregular rhythm, largest beat: no flow", {"sex": "female", "rhythm": "irregular"},
         height=q(168, "cm"), weight=q(70, "kg"), lvot_diameter=q(2.0, "cm"),
         lvot_vti={"largest": [15.0, 16.1, 18.9, 14.2], "unit": "cm"}, heart_rate=q(88, "/min")),
    exam("poor signal: no flow", {"rhythm": "regular", "signal": "poor"},
         height=q(170, "cm"), weight=q(66, "kg"), lvot_diameter=q(1.9, "cm"),
         lvot_vti={"beats": [17.0, 17.3, 16.8], "unit": "cm"}, heart_rate=q(80, "/min")),
    exam("venous not below arterial, systolic not above diastolic", {"rhythm": "regular", "sex": "male"},
         height=q(170, "cm"), weight=q(66, "kg"), lvot_diameter=q(1.9, "cm"),
         lvot_vti={"beats": [11.0, 11.3, 10.8], "unit": "cm"}, heart_rate=q(80, "/min"),
         systolic_pressure=q(60, "mm[Hg]"), diastolic_pressure=q(60, "mm[Hg]"), mean_pressure=q(24, "mm[Hg]"),
         central_venous_pressure=q(25, "mm[Hg]")),
    exam("worked example: 2.0 cm, 20 cm, 70 per minute", {"rhythm": "regular"},
         height=q(170, "cm"), weight=q(70, "kg"), lvot_diameter=q(2.0, "cm"), lvot_vti=q(20, "cm"),
         heart_rate=q(70, "/min"), systolic_pressure=q(120, "mm[Hg]"), diastolic_pressure=q(80, "mm[Hg]"),
         central_venous_pressure=q(5, "mm[Hg]")),
] + [
    exam(f"diameter estimated at {area} m2", {"age_group": "adult", "rhythm": "regular"},
         body_surface_area=q(area, "m2"), lvot_diameter="unobtainable",
         lvot_vti={"beats": [vti, vti + 0.6, vti - 0.3], "unit": "cm"}, heart_rate=q(rate, "/min"),
         systolic_pressure=q(110, "mm[Hg]"), diastolic_pressure=q(65, "mm[Hg]"),
         central_venous_pressure=q(7, "mm[Hg]"))
    for area, vti, rate in [(1.5, 16.5, 101), (1.8, 22.0, 58), (1.9, 12.5, 92), (2.2, 19.0, 77), (2.4, 25.5, 110)]
]


def written(results):
    """JSON whose expected values have 17 significant digits, enough to read the same float back.

    The encoder writes the shortest form, so the digits are put in as marked text and the marks taken off.
    """
    marked = [
        {**one, "expected": {name: f"@{value:.17g}@" for name, value in one["expected"].items()}}
        for one in results
    ]
    return json.dumps(marked, indent=1).replace('"@', "").replace('@"', "") + "\n"


if __name__ == "__main__":
    results = [judged(one) for one in EXAMS]
    Path(__file__).with_name("catalogue.json").write_text(written(results), encoding="utf-8")
