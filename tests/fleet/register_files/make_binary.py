"""Make the binary files of this folder: workbooks, and text that is not UTF-8.

python -m tests.fleet.register_files.make_binary
"""

import io
import re
import zipfile
from datetime import date, datetime
from pathlib import Path

from openpyxl import Workbook

FOLDER = Path(__file__).parent
HEADER = ["asset_number", "serial", "model", "site", "area", "built_year", "in_use_from"]
ONE = ["A-1", "S 1", "three", "north", "Theatre 1", 1984, date(1985, 3, 1)]
TWO = ["A-2", "S 2", "three", "north", "Theatre 1", 1990, date(1991, 6, 30)]
MOMENT = (2026, 1, 1, 0, 0, 0)


def workbook(**sheets):
    book = Workbook()
    book.remove(book.active)
    book.properties.created = book.properties.modified = datetime(*MOMENT)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    return book


def saved(book):
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def changed(data, part, change):
    """The archive with the content of one part changed, or with one more part."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted({*old.namelist(), part}):
            content = old.read(name) if name in old.namelist() else b""
            new.writestr(zipfile.ZipInfo(name, MOMENT), change(content) if name == part else content)
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
OTHER_DAYS = [[f"A-{n}", *TWO[1:6], day] for n, day in ((2, 33419), (3, "30/06/1991"), (4, "1991-06-30"))]
TRUTHS = [[*HEADER, "o2-analyser", "ratio-protection"], [1001, 77.0, *ONE[2:5], 1984.0, ONE[6], True, 0]]
DOCTYPE = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]>'
PLAIN = saved(workbook(Machines=[HEADER, ONE, TWO]))


def titled():
    book = workbook(Machines=[["North Hospital"], ["Anaesthesia machines"], [], HEADER, ONE, TWO, [], ["Total", 2]])
    book["Machines"].merge_cells("A1:G1")
    return saved(book)


def merged():
    book = workbook(Machines=[HEADER, ONE, [*TWO[:3], None, None, *TWO[5:]]])
    book["Machines"].merge_cells("D2:D3")
    book["Machines"].merge_cells("E2:E3")
    return saved(book)


def formula(cached):
    data = saved(workbook(Machines=[HEADER, [*ONE[:5], "=1980+4", ONE[6]], TWO]))
    value = b"<v>1984</v>" if cached else b""
    return changed(data, SHEET, lambda xml: re.sub(rb"</f><v ?/?>(</v>)?", b"</f>" + value, xml))


def bomb():
    """A part that claims to unpack to 3 GB, in the archive's own list."""
    data = bytearray(PLAIN)
    start = data.rindex(b"PK\x01\x02")
    data[start + 24 : start + 28] = (3_000_000_000).to_bytes(4, "little")
    return bytes(data)


def archive(**parts):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        for name, content in parts.items():
            new.writestr(zipfile.ZipInfo(name, MOMENT), content)
    return out.getvalue()


def compound(marker=b""):
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500) + marker + bytes(500)


def text(area="Théâtre 2", end="\n"):
    row = f"A-1,S 1,three,north,{area},1984,1985-03-01"
    return end.join([",".join(HEADER), row, ""])


FILES = {
    "plain.xlsx": PLAIN,
    "titled.xlsx": titled(),
    "merged_places.xlsx": merged(),
    "dates.xlsx": saved(workbook(Machines=[HEADER, ONE, *OTHER_DAYS])),
    "year_for_date.xlsx": saved(workbook(Machines=[HEADER, [*ONE[:6], 1985]])),
    "formula.xlsx": formula(cached=True),
    "formula_without_value.xlsx": formula(cached=False),
    "two_registers.xlsx": saved(workbook(North=[HEADER, ONE], South=[HEADER, TWO])),
    "read_me_first.xlsx": saved(workbook(**{"Read me": [["Fill in the second sheet."]], "List": [HEADER, ONE, TWO]})),
    "numbers_and_truths.xlsx": saved(workbook(Machines=TRUTHS)),
    "error_cell.xlsx": saved(workbook(Machines=[HEADER, [*ONE[:5], "#REF!", ONE[6]]])),
    "date_for_asset_number.xlsx": saved(workbook(Machines=[HEADER, [date(2026, 12, 3), *ONE[1:]]])),
    "too_long_number.xlsx": saved(workbook(Machines=[HEADER, [ONE[0], 12345678901234567000, *ONE[2:]]])),
    "empty.xlsx": saved(workbook(Machines=[])),
    "styled_far_out.xlsx": saved(workbook(Machines=[[*HEADER, *[None] * 500], ONE])),
    "too_wide.xlsx": saved(workbook(Machines=[[*HEADER, *[f"c{n}" for n in range(400)]], ONE])),
    "encrypted.xlsx": compound("EncryptedPackage".encode("utf-16-le")),
    "old_format.xls": compound(b"Workbook"),
    "cut_off.xlsx": PLAIN[: len(PLAIN) // 2],
    "broken_sheet.xlsx": changed(PLAIN, SHEET, lambda xml: xml[: len(xml) // 2]),
    "no_workbook.xlsx": archive(**{"notes.txt": b"not a workbook"}),
    "other_office.xlsx": archive(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"),
    "unpacks_to_3_gb.xlsx": bomb(),
    "document_type.xlsx": changed(PLAIN, SHEET, lambda xml: DOCTYPE + xml),
    "strange_dimension.xlsx": changed(PLAIN, SHEET, lambda xml: re.sub(rb'(<dimension ref=")[^"]*', rb"\1A1", xml)),
    "utf16.csv": text().encode("utf-16"),
    "utf16_no_mark.csv": text().encode("utf-16-be"),
    "latin1.csv": text().encode("latin-1"),
    "windows.csv": text("Recovery – “east”", "\r\n").encode("cp1252"),
    "old_mac.csv": text().encode("mac-roman"),
    "neither_encoding.csv": text("Th\x8d").encode("latin-1"),
}  # fmt: skip

if __name__ == "__main__":
    for name, data in FILES.items():
        (FOLDER / name).write_bytes(data)
    print(f"{len(FILES)} files written to {FOLDER}")
