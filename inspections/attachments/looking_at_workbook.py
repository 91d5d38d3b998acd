"""Whether an archive is an XLSX workbook that holds nothing but cells and pictures. Its XML is not parsed.

Source of the names: ECMA-376-1, part 1, 12 (packages of SpreadsheetML) and Part 2 (Open Packaging Conventions).
"""

import re
import zipfile
from io import BytesIO

MOST_PARTS = 2_000
MOST_BYTES = 150 * 1024 * 1024
CHUNK = 1 << 20
TYPES = "[Content_Types].xml"
WORKBOOK = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
ACTS = (
    (re.compile(r"vbaproject|/macrosheets/|\.bin$", re.IGNORECASE), "a program (macro)"),
    (re.compile(r"/embeddings/|/activex/|/ctrlprops/", re.IGNORECASE), "another file or a control inside it"),
    (re.compile(r"/externallinks/|/connections\.xml|/querytables/", re.IGNORECASE), "links that read other files"),
)
PRINTER = re.compile(r"xl/printerSettings/printerSettings[0-9]+\.bin")  # written by common spreadsheets; not read
SAVE_AS = "Copy the cells into a new workbook, or save it as a PDF"


def problem_of_workbook(data: bytes) -> str:
    """Return what is wrong, as a clause; "" for a workbook that only holds data."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        parts = archive.infolist()
        names = [part.filename for part in parts]
        if any(part.flag_bits & 1 for part in parts):
            return "is protected by a password, so that what it holds cannot be checked. Save it without a password"
        if TYPES not in names:
            return "is an archive, not a workbook. Attach the files in it one by one"
        if len(set(names)) != len(names) or any(_is_strange(name) for name in names):
            return f"is no regular workbook: what is in it is named strangely. {SAVE_AS}"
        return _unpacked_problem(archive, parts) or _content_problem(archive, names)


def _is_strange(name):
    return name.startswith("/") or "\\" in name or ".." in name.split("/") or "\0" in name


def _unpacked_problem(archive, parts):
    """Unpack every part piece by piece, since the size that an archive states may be a lie."""
    too_large = f"unpacks to more than {MOST_BYTES // 1_000_000:,} MB or {MOST_PARTS:,} pieces"
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_BYTES:
        return too_large
    unpacked = 0
    for part in parts:
        with archive.open(part) as content:
            while chunk := content.read(CHUNK):
                unpacked += len(chunk)
                if unpacked > MOST_BYTES:
                    return too_large
    return ""


def _content_problem(archive, names):
    if WORKBOOK not in archive.read(TYPES):
        return "is an archive, or a document of another kind than a plain XLSX workbook. Save it as a PDF"
    for pattern, words in ACTS:
        if any(pattern.search(f"/{name}") for name in names if not PRINTER.fullmatch(name)):
            return f"holds {words}. {SAVE_AS}"
    return ""
