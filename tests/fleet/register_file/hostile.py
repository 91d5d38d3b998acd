"""Files that need far more resources than their size: by name, with a part of the sentence that refuses them."""

import io
import zipfile
import zlib
from collections.abc import Iterable

from openpyxl.utils import get_column_letter

TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>'
    '<Override PartName="/xl/sharedStrings.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
)
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
ROOT = (
    f'<Relationships xmlns="{PACKAGE}"><Relationship Id="r1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/>'
    "</Relationships>"
)
LINKS = (
    f'<Relationships xmlns="{PACKAGE}"><Relationship Id="r1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="r2" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/></Relationships>'
)
BOOK = (
    f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets><sheet name="A" sheetId="1" r:id="r1"/></sheets></workbook>'
)
HEADER = '<row r="1"><c r="A1" t="inlineStr"><is><t>asset number</t></is></c></row>'
ROW = '<row r="2"><c r="A2" t="inlineStr"><is><t>M-1</t></is></c></row>'


def workbook(
    rows: Iterable[str] = (HEADER, ROW), after: Iterable[str] = (), strings: Iterable[str] = (), prolog="", styles=""
) -> bytes:
    """A workbook of one sheet, from the XML of its rows, of what follows them and of the shared strings."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, text in (
            ("[Content_Types].xml", TYPES), ("_rels/.rels", ROOT), ("xl/workbook.xml", BOOK),
            ("xl/_rels/workbook.xml.rels", LINKS),
        ):  # fmt: skip
            archive.writestr(name, text)
        if styles:
            archive.writestr("xl/styles.xml", styles)
        _write(archive, "xl/worksheets/sheet1.xml", prolog, f'<worksheet xmlns="{MAIN}"><sheetData>', rows,
               "</sheetData>", after, "</worksheet>")  # fmt: skip
        _write(archive, "xl/sharedStrings.xml", f'<sst xmlns="{MAIN}">', strings, "</sst>")
    return written.getvalue()


def opened(data: bytes) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(data))


def _write(archive, name, *parts):
    with archive.open(name, "w") as opened:
        for part in parts:
            for text in (part,) if isinstance(part, str) else part:
                opened.write(text.encode())


def repeated(text, times, at_once=10_000):
    """The text that many times, in pieces."""
    for start in range(0, times, at_once):
        yield text * min(at_once, times - start)


def merged(count) -> bytes:
    return workbook(after=["<mergeCells>", *repeated('<mergeCell ref="B2:B3"/>', count), "</mergeCells>"])


def merged_over_each_other(count, rows=9_000) -> bytes:
    return workbook(after=["<mergeCells>", *repeated(f'<mergeCell ref="A1:A{rows}"/>', count), "</mergeCells>"])


def empty_strings(count) -> bytes:
    return workbook(strings=repeated("<si><t/></si>", count))


def wide_rows(rows, width=16_384) -> bytes:
    letters = [get_column_letter(number) for number in range(1, width + 1)]
    return workbook([HEADER, *(_wide_row(number, letters) for number in range(2, rows + 2))])


def _wide_row(number, letters):
    cells = (f'<c r="{letter}{number}"><v>{number * k % 9973}</v></c>' for k, letter in enumerate(letters))
    return f'<row r="{number}">{"".join(cells)}</row>'


def far_cells(rows, cell='<c r="XFD{0}" s="0"/>') -> bytes:
    lines = (f'<row r="{n}"><c r="A{n}"><v>1</v></c>{cell.format(n)}</row>' for n in range(2, rows + 2))
    return workbook([HEADER, *lines])


def far_row(number=1_048_576) -> bytes:
    return workbook([HEADER, ROW, f'<row r="{number}"><c r="A{number}"><v>1</v></c></row>'])


def laughs(levels=12) -> bytes:
    entities = '<!ENTITY a0 "ha">' + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, levels))
    rows = f'<row r="1"><c r="A1" t="inlineStr"><is><t>&a{levels - 1};</t></is></c></row>'
    return workbook([rows], prolog=f"<!DOCTYPE worksheet [{entities}]>")


def nested(depth) -> bytes:
    return workbook([HEADER, *repeated("<row>", depth), *repeated("</row>", depth)])


def many_styles(count) -> bytes:
    return workbook(styles=f'<styleSheet xmlns="{MAIN}"><cellXfs>{"<xf/>" * count}</cellXfs></styleSheet>')


def zip_bomb(megabytes) -> bytes:
    return workbook(rows=[HEADER, *repeated(" " * 1000, megabytes * 1000)])


def small_samples() -> dict[str, tuple[bytes, str]]:
    """Return those that are made in a moment."""
    return {
        "300,000 merged cells": (merged(300_000), "merged ranges"),
        "merged cells over each other": (merged_over_each_other(4_000), "cover more than"),
        "a cell in the last column of each row": (far_cells(20_000, '<c r="XFD{0}"><v>1</v></c>'), "16,384 cells"),
        "a cell in the last row": (far_row(), "Row 1,048,576"),
        "billion laughs": (laughs(), "document type"),
        "nested elements": (nested(200_000), "60 deep"),
        "styles": (many_styles(200_000), "100,000 elements"),
        "zip bomb": (zip_bomb(200), "unpacks to"),
        "one line of 5 MB": (b"a" * 5_000_000, "field larger"),
        "100,000 columns": (b"asset number" + b",a" * 100_000 + b"\n", "100,001 cells"),
        "a million blank columns": (b"asset number\n" + b"," * 1_000_000 + b"\n", "lists no machine"),
        "only quotation marks": (b'"' * 5_000_000, "field larger"),
    }


def large_samples() -> dict[str, tuple[bytes, str]]:
    """Return those that take seconds to make."""
    return {
        "empty strings": (empty_strings(10_000_000), "3,000,000 elements"),
        "wide rows": (wide_rows(58), "16,384 cells"),
    }


SLOW_PDF_OPERATIONS = 3_000_000


def pdf(objects: list[bytes], info=b"<</Keywords(bobbin-record)>>") -> bytes:
    """A PDF from its objects, the first being the catalogue."""
    out, places = bytearray(b"%PDF-1.4\n"), []
    for number, content in enumerate([*objects, info], start=1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, content)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer<</Size %d/Root 1 0 R/Info %d 0 R>>\nstartxref\n%d\n%%%%EOF" % (len(places) + 1, len(places), start)
    return bytes(out)


CATALOGUE = b"<</Type/Catalog/Pages 2 0 R>>"
FONT = b"<</Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>>>"


def pdf_of_one_page(stream: bytes, filters=b"") -> bytes:
    page = b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]/Contents 4 0 R/Resources %s>>" % FONT
    content = b"<</Length %d%s>>stream\n%s\nendstream" % (len(stream), filters, stream)
    return pdf([CATALOGUE, b"<</Type/Pages/Kids[3 0 R]/Count 1>>", page, content])


def pdfs() -> dict[str, bytes]:
    many = b" ".join([b"3 0 R"] * 100_000)
    packed = zlib.compress(bytes(400_000_000), 9)
    work = zlib.compress(b"BT /F 9 Tf " + b"(a)Tj 0 -9 Td " * SLOW_PDF_OPERATIONS + b"ET", 9)
    return {
        "pages that hold each other": pdf([CATALOGUE, b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
                                           b"<</Type/Pages/Kids[2 0 R]/Count 1>>"]),
        "one page 100,000 times": pdf([CATALOGUE, b"<</Type/Pages/Kids[%s]/Count 100000>>" % many,
                                       b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>"]),
        "400 MB of zeros in 400 KB": pdf_of_one_page(packed, b"/Filter/FlateDecode"),
        "millions of words": pdf_of_one_page(work, b"/Filter/FlateDecode"),
        "nested lists": pdf_of_one_page(b"[" * 200_000),
        "nothing but its first line": b"%PDF-1.7\n" + b"<<" * 500_000,
    }  # fmt: skip
