"""What the process does that reads a printed record for another one (fleet/confined): the words of a PDF. No Django."""

from difflib import SequenceMatcher
from io import BytesIO

from pypdf import PdfReader

MOST_PAGES = 200
MOST_LINES = 20_000
MOST_DIFFERENCES = 40


class TooLong(Exception):
    """The paper has more than any record; the message says what."""


def paper_text(data: bytes, *, ask=None) -> tuple[str, list[str], str]:
    """Return the keywords of a PDF, its lines, and why it is not read as a whole ("" if it is).

    ("", [], "") for what is no PDF or one that cannot be read.
    """
    try:
        reader = PdfReader(BytesIO(data))
        keywords = str((reader.metadata or {}).get("/Keywords", ""))[:1000]
        return keywords, lines_of(reader) if keywords else [], ""
    except MemoryError:
        raise
    except TooLong as too_long:
        return "", [], str(too_long)
    except Exception:  # noqa: BLE001  a broken file breaks the reader in any way there is
        return "", [], ""


def lines_of(reader: PdfReader) -> list[str]:
    if len(reader.pages) > MOST_PAGES:
        raise TooLong(f"The file has {len(reader.pages):,} pages; a record has at most {MOST_PAGES}.")
    lines = []
    for page in reader.pages:
        lines += (" ".join(line.split()) for line in page.extract_text().splitlines())
        if len(lines) > MOST_LINES:
            raise TooLong(f"The file has more than {MOST_LINES:,} lines, more than a record.")
    return lines


def paper_differences(again: bytes, given: list[str], *, ask=None) -> list[tuple[str, str]]:
    """Return (in the store, on the paper) where the lines of a paper differ from the record printed again."""
    stored = lines_of(PdfReader(BytesIO(again)))
    matcher = SequenceMatcher(None, stored, given, autojunk=False)
    changed = [part for part in matcher.get_opcodes() if part[0] != "equal"]
    return [(" ".join(stored[a:b]), " ".join(given[c:d])) for _, a, b, c, d in changed[:MOST_DIFFERENCES]]
