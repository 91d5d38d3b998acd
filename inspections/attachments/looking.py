"""The work of the separate process that looks into a file (fleet/confined): which kind it is, or why it is refused.

Nothing is executed and nothing is unpacked to the disk. What could act when somebody opens the file is refused.
"""

from inspections.attachments.looking_at_pdf import problem_of_pdf
from inspections.attachments.looking_at_text import kind_of_text
from inspections.attachments.looking_at_workbook import problem_of_workbook

DAMAGED = "is damaged or incomplete: it cannot be read to its end"


def look(data: bytes, *, ask=None) -> dict:
    """Return {"kind": its code}, or {"refused": what is wrong, as a clause}. Pictures are not looked at here.

    ask  is not used; every function that runs confined is called with it
    """
    try:
        return _look(data)
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001  readers raise almost anything for a damaged file; the process ends anyway
        return {"refused": DAMAGED}


def _look(data):
    for beginning, kind, problem_of in ((b"%PDF-", "pdf", problem_of_pdf), (b"PK", "xlsx", problem_of_workbook)):
        if data.startswith(beginning):
            problem = problem_of(data)
            return {"refused": problem} if problem else {"kind": kind}
    kind, problem = kind_of_text(data)
    return {"refused": problem} if problem else {"kind": kind}
