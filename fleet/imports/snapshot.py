"""The content of a preview, computed once and stored with the upload, so that its pages are fast."""

from fleet.register_file.cells import text_of
from fleet.register_file.settings import DATE_ORDERS, DELIMITERS, ENCODINGS

SAMPLES = 3


def snapshot_of(parsed, plan=None):
    """Return the ParsedFile and, if it has no open question, its plan as JSON data."""
    return {"reading": reading_of(parsed), **plan_of(plan, parsed)}


def reading_of(parsed):
    """Return how a file was read: its source, the columns with sample cells, questions and notes."""
    table = parsed.table
    read = {
        "questions": [{"about": one.about, "text": one.text, "open": one.is_open} for one in parsed.questions],
        "notes": list(parsed.notes),
        "spellings": [list(spelling) for spelling in parsed.spellings],
        "columns": [],
    }
    if table is None:
        return read
    source = table.source
    return read | {
        "form": source.form,
        "words": str(source),
        "encoding": source.encoding,
        "delimiter": source.delimiter,
        "sheet": source.sheet,
        "sheets": list(source.sheets),
        "sample": list(source.sample),
        "header_row": table.header_row,
        "columns": [
            {"label": one.label, "column": one.column, "how": one.how, "samples": _samples(table, position)}
            for position, one in enumerate(parsed.mapped)
        ],
    }


def plan_of(plan, parsed):
    if plan is None:
        return {"is_planned": False, "problems": [], "created": [], "updated": [], "unchanged": 0, "waiting": 0}
    listed = parsed.kind.listed
    return {
        "is_planned": True,
        "is_ready": plan.is_ready,
        "fingerprint": plan.fingerprint(),
        "unchanged": plan.unchanged,
        "waiting": len(plan.waiting),
        "problems": [[p.row, p.column, p.value, p.message, p.accepted, p.about, p.within] for p in plan.all_problems],
        "created": [
            {
                "row": new.row,
                "cells": [new.cells.get(name, "") for name in listed],
                "more": [[name, value] for name, value in new.cells.items() if name not in listed],
            }
            for new in plan.created
        ],
        "updated": [
            {
                "row": update.row,
                "label": update.label,
                "url": _url(update.record),
                "changes": [[change.column, change.before, change.after] for change in update.changes],
            }
            for update in plan.updated
        ],
    }


def _url(record):
    return record.get_absolute_url() if hasattr(record, "get_absolute_url") else ""


def _samples(table, position):
    found = []
    for _, cells in table.rows:
        text = text_of(cells[position])[:40]
        if text and text not in found:
            found.append(text)
        if len(found) == SAMPLES:
            break
    return found


def choices():
    """Return the choices of how a file is read, as (value, text)."""
    return {
        "encoding": list(ENCODINGS.items()),
        "delimiter": list(DELIMITERS.items()),
        "date_order": list(DATE_ORDERS.items()),
    }
