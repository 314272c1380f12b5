"""Writes data/hospital_export.csv and data/hospital_export.xlsx: the first rows of the invented
data/first_cohort.csv as a hospital's system might export them. Nothing in them is real.

    python tests/oracles/hospital_export.py        (openpyxl 3.1 from PyPI)

The .csv is Windows-1252 with semicolons, decimal commas, days before months and a title line; the
.xlsx, written by openpyxl, has title rows, merged headings in two rows, dates as dates and a second
sheet. The same rows give the same results as data/first_cohort.csv: a test compares them.
"""

import csv
import datetime
import pathlib

import openpyxl

DATA = pathlib.Path(__file__).resolve().parents[2] / "data"
ROWS = 60
WORDS = {"regular": "SR", "irregular": "VHF", "female": "w", "male": "m"}

with open(DATA / "first_cohort.csv", encoding="utf-8", newline="") as file:
    table = list(csv.DictReader(file))[:ROWS]


def millimeters(text):
    """The same decimal digits with the point moved: no floating point."""
    if "." not in text:
        return text
    whole, fraction = text.split(".")
    digits = (whole + fraction[:1]).lstrip("0") or "0"
    rest = fraction[1:].rstrip("0")
    return digits + ("." + rest if rest else "")


def day(row):
    return datetime.date(2031, 1, 1) + datetime.timedelta(days=int(row["day"]))


COLUMNS = [
    # level above, heading, column of first_cohort.csv
    ("", "Case no.", "patient"),
    ("", "Exam date", None),
    ("", "Sex", "sex"),
    ("", "Height cm", "height [cm]"),
    ("", "Weight kg", "weight [kg]"),
    ("", "Rhythm", "rhythm"),
    ("", "Ø LVOT (mm)", "lvot_diameter [cm]"),
    ("pre", "VTI (cm)", "before.lvot_vti [cm]"),
    ("pre", "VTI n", "before.lvot_vti (n)"),
    ("pre", "HR", "before.heart_rate [/min]"),
    ("post", "VTI (cm)", "after.lvot_vti [cm]"),
    ("post", "VTI n", "after.lvot_vti (n)"),
    ("post", "HR", "after.heart_rate [/min]"),
    ("", "Remark", None),
]


def field(row, heading, source):
    if heading == "Exam date":
        return day(row)
    if heading == "Remark":
        return "erfunden; für den Unterricht"
    text = WORDS.get(row[source], row[source])
    return millimeters(text) if source == "lvot_diameter [cm]" else text


def exported(value):
    if isinstance(value, datetime.date):
        return value.strftime("%d.%m.%Y")
    is_number = value.replace(".", "", 1).isdigit()
    return value.replace(".", ",") if is_number else value


with open(DATA / "hospital_export.csv", "w", encoding="windows-1252", newline="") as file:
    file.write("Export of an echo laboratory (invented)\r\n")
    writer = csv.writer(file, delimiter=";", lineterminator="\r\n")
    writer.writerow([f"{heading} {above}".strip() for above, heading, _ in COLUMNS])
    for row in table:
        writer.writerow([exported(field(row, h, s)) for _, h, s in COLUMNS])


def cell(value):
    try:
        return float(value) if isinstance(value, str) and value[:1].isdigit() else value or None
    except ValueError:
        return value


book = openpyxl.Workbook()
notes = book.active
notes.title = "Notes"
notes["A1"] = "Invented: nothing here describes a real person."
sheet = book.create_sheet("Echo")
sheet["A1"] = "Export of an echo laboratory (invented)"
sheet.merge_cells("A1:N1")
for at, (above, heading, _) in enumerate(COLUMNS, start=1):
    if above:
        sheet.cell(3, at, above)
        sheet.cell(4, at, heading)
    else:
        sheet.cell(3, at, heading)
        sheet.merge_cells(start_row=3, end_row=4, start_column=at, end_column=at)
for first, last in (("H", "J"), ("K", "M")):
    sheet.merge_cells(f"{first}3:{last}3")
for at, row in enumerate(table, start=5):
    for column, (_, heading, source) in enumerate(COLUMNS, start=1):
        sheet.cell(at, column, cell(field(row, heading, source)))
book.properties.created = book.properties.modified = datetime.datetime(2031, 1, 1)
book.save(DATA / "hospital_export.xlsx")
