"""Whether a payload has become part of a page or runs in a file."""

import csv
import io
import re
import zipfile
from html.parser import HTMLParser

from openpyxl import load_workbook
from pypdf import PdfReader

from fleet.export.defusing import RISKY
from tests.hostile.payloads import ADDRESS, TAG, WORD

VOID_SCRIPTS = "/static/"
PHOTOGRAPHS = "/inspections/photographs/"  # the only pictures of ours that are no drawings
JPEG = b"\xff\xd8\xff"
BARRED = {TAG, "iframe", "object", "embed", "base", "style", "img", "font", "marquee"}
OWN_PICTURE = re.compile(r"/[a-z0-9/-]+/photograph\.jpg")  # an address that reverse() makes
REAL = ("href", "src", "action", "formaction", "data", "xlink:href")


class Page(HTMLParser):
    """Collects what a page holds that no template of ours writes."""

    def __init__(self, mark=""):
        super().__init__(convert_charrefs=True)
        self.mark, self.foreign, self.shows = mark, [], False

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        is_own_picture = tag == "img" and OWN_PICTURE.fullmatch(given.get("src") or "")
        is_photograph = tag == "img" and (given.get("src") or "").startswith(PHOTOGRAPHS)
        if (tag in BARRED and not (is_own_picture or is_photograph)) or (
            tag == "script" and not (given.get("src") or "").startswith(VOID_SCRIPTS)
        ):
            self.foreign.append(f"<{tag} {given}>")
        for name, value in attributes:
            self._look(tag, name, value or "", given)

    handle_startendtag = handle_starttag

    def _look(self, tag, name, value, given):
        is_address = name in REAL and (value.strip().lower().startswith("javascript:") or value.startswith(ADDRESS))
        is_control = name.removeprefix("data-").startswith(("hx-get", "hx-post"))
        is_unmarked = is_control and (given.get("data-controls") != self.mark or value.startswith(ADDRESS))
        if name.startswith("on") or name == TAG or name.startswith("hx-on") or is_address or is_unmarked:
            self.foreign.append(f"<{tag} {name}={value[:60]!r}>")
        self.shows = self.shows or WORD in value

    def handle_data(self, data):
        self.shows = self.shows or WORD in data


def look_at_page(text, mark):
    """Return whether the page shows the payload. Raises AssertionError for what became real of it."""
    page = Page(mark)
    page.feed(text)
    page.close()
    assert page.foreign == [], page.foreign
    return page.shows


def look_at_file(content, name):
    """Return whether a file shows the payload. Raises if it cannot be read, or if a cell would run."""
    if content[:4] == b"%PDF":
        return WORD in _pdf_text(content)
    if content[:2] == b"PK":
        return _look_at_archive(content)
    if content[:3] == JPEG:
        assert WORD.encode() not in content, name
        return False
    text = content.decode("utf-8-sig")
    if ".csv" in name:
        cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
        _refuse_formulas(cells)
    return WORD in text


def _pdf_text(content):
    reader = PdfReader(io.BytesIO(content), strict=True)
    assert reader.metadata is not None
    return "".join(page.extract_text() for page in reader.pages).replace("\n", "")


def _look_at_archive(content):
    archive = zipfile.ZipFile(io.BytesIO(content))
    if "xl/workbook.xml" not in archive.namelist():
        return any([look_at_file(archive.read(name), name) for name in archive.namelist()])
    cells = [cell for sheet in load_workbook(io.BytesIO(content)) for row in sheet.iter_rows() for cell in row]
    assert [cell.coordinate for cell in cells if cell.data_type == "f"] == []
    texts = [cell.value for cell in cells if isinstance(cell.value, str)]
    _refuse_formulas(texts)
    return any(WORD in text for text in texts)


def _refuse_formulas(cells):
    assert [cell for cell in cells if RISKY.match(cell) and not cell.startswith("'") and not _is_number(cell)] == []


def _is_number(cell):
    try:
        float(cell)
    except ValueError:
        return False
    return True
