"""Writes tests/cases/spreadsheet/cells.xlsx: cells of many kinds, as openpyxl writes them. Invented.

    python tests/oracles/spreadsheet_cells.py        (openpyxl 3.1 from PyPI)
"""

import datetime
import pathlib

import openpyxl

book = openpyxl.Workbook()
sheet = book.active
sheet.title = "Cells"
sheet["C3"], sheet["D3"], sheet["E3"] = "kind", "lvot_vti [cm]", "note"
ROWS = [
    ("number", 20.5, 7),
    ("text with a comma", "20,5", "007"),
    ("text with a unit", "205 mm", datetime.date(2031, 5, 17)),
    ("blank", None, datetime.datetime(2031, 5, 17, 7, 30)),
    ("true", True, datetime.time(7, 30)),
    ("date", datetime.date(2031, 5, 17), None),
    ("error", "#DIV/0!", None),
    ("formula without a kept value", "=20+0.5", None),
]
for at, row in enumerate(ROWS, start=4):
    for column, value in zip("CDE", row):
        sheet[f"{column}{at}"] = value
sheet["E9"] = 0.145
sheet["E9"].number_format = "0.0%"
sheet["E10"] = 0.07
sheet["E10"].number_format = "0%"
sheet["E11"] = datetime.timedelta(minutes=90)
hidden = book.create_sheet("Hidden")
hidden["A1"] = "lvot_vti"
hidden.sheet_state = "hidden"
book.properties.created = book.properties.modified = datetime.datetime(2031, 1, 1)
book.save(pathlib.Path(__file__).resolve().parents[1] / "cases/spreadsheet/cells.xlsx")
