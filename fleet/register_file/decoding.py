"""From bytes to text, with the encoding detected; if more than one is possible, the person is asked."""

import codecs
from collections.abc import Mapping

from fleet.register_file.problems import Question, Unreadable
from fleet.register_file.settings import ENCODINGS

BYTE_ORDER_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
OTHER_FILES: Mapping[bytes, str] = {
    b"%PDF": "is a PDF",
    b"{\\rtf": "is a word processor document",
    b"\x89PNG": "is a picture",
    b"\xff\xd8\xff": "is a picture",
    b"\x1f\x8b": "is compressed",
    b"Rar!": "is an archive",
    b"7z\xbc\xaf": "is an archive",
}
ACCEPTED_FILES = "CSV or XLSX."


def decode(data: bytes, encoding: str | None) -> tuple[str, str, tuple[Question, ...]]:
    """Return the text, the encoding (a key of ENCODINGS) and the question, if any. Raises Unreadable."""
    _refuse_other_files(data)
    if encoding is not None:
        return _as_said(data, encoding), encoding, ()
    for mark, marked in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return _as_said(data, marked), marked, ()
    found = _wide(data)
    if found is None and _is_utf8(data):
        return _checked(data.decode("utf-8")), "utf-8", ()
    found = found or _narrow(data)
    return _as_said(data, found), found, (_question(found),)


def sample_of(text: str, most: int = 6) -> list[str]:
    """Return words of the text that a wrong encoding would change."""
    words = {}
    for line in text.splitlines():
        for word in line.replace(",", " ").replace(";", " ").split():
            if not word.isascii():
                words[word[:40]] = None
            if len(words) == most:
                return list(words)
    return list(words)


def _as_said(data, encoding):
    if encoding not in ENCODINGS:
        raise Unreadable(f"“{encoding}” is not a supported encoding.", f"{', '.join(ENCODINGS)}.")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        name, wrong = ENCODINGS[encoding], data[error.start]
        raise Unreadable(
            f"The file is not {name} text: byte {wrong:#04x} in row {row} is not valid.",
            "the encoding in which the file was saved; in a spreadsheet choose “CSV UTF-8”.",
        ) from None
    return _checked(text)


def _checked(text):
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        raise Unreadable("The file contains zero bytes, so it is not plain text.", ACCEPTED_FILES)
    if not text.strip():
        raise Unreadable("The file is empty.", "a header row and at least one row below it.")
    if text.lstrip()[:200].lower().startswith(("<!doctype", "<html", "<?xml", "<table")):
        raise Unreadable("The file is a web page, in spite of its name.", ACCEPTED_FILES)
    return text


def _refuse_other_files(data):
    for start, words in OTHER_FILES.items():
        if data.startswith(start):
            raise Unreadable(f"The file {words}.", ACCEPTED_FILES)


def _is_utf8(data):
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _wide(data):
    """Detect UTF-16 without a byte order mark: every other byte of Latin text is zero."""
    head = data[:4000]
    if len(head) < 4 or head.count(0) < len(head) * 0.3:
        return None
    return "utf-16-le" if head[1::2].count(0) > head[0::2].count(0) else "utf-16-be"


def _narrow(data):
    """Detect a single-byte encoding: Windows-1252 prints 0x80 to 0x9f and Latin-1 does not; five are in neither."""
    return "latin-1" if any(byte in data for byte in b"\x81\x8d\x8f\x90\x9d") else "cp1252"


def _question(found):
    return Question("encoding", f"The file is not UTF-8. It was read as {ENCODINGS[found]}: is the text correct?")
