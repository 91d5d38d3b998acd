"""Writes a cover table as text for a terminal or a printer, and as data for another program."""

from collections.abc import Iterable
from textwrap import wrap
from typing import Any

from fleet.catalogue import AGENTS, FEATURES, HAZARDS
from fleet.circuit.cover_rows import Cause, CoverRow, CoverTable, Figures, Status
from fleet.circuit.quantity_words import per_cent
from fleet.circuit.serialise import figures_to_dict
from fleet.circuit.units import text_in

WIDTH = 110
INDENT = " " * 22
JUDGED = (Status.OPEN, Status.TOLD, Status.STOPPED)
LEAST_SHARE = 5e-5  # of a vapour, below which it would be printed as 0.00 %
NOT_JUDGED = ("electric-shock", "fire")  # a gas circuit does not show them
CAUTION = (
    "Computed from a model of the gas circuit, for qualified personnel. It replaces neither the manufacturer's "
    "instructions nor local rules nor an inspection; a person decides and signs."
)


def table_text(table: CoverTable, *, explain: bool = False, open_only: bool = False) -> str:
    """Return the table by hazard: each cause with its likelihood and what stops it or alarms on it, or OPEN.

    explain    adds to each row how it happens and is stopped, and what reaches the patient, with and without safety
               features
    open_only  leaves out rows that are stopped or alarmed; the counts include them, and not those of latent failures
    """
    lines = [f"Circuit {table.digest[:12]}: {table.causes} causes; {_counts(table.first_rows)}"]
    if table.latent_rows:
        lines.append(f"With the only safety feature failed before, unnoticed: {_counts(table.latent_rows)}")
    for hazard in HAZARDS.values():
        rows = [row for row in table.rows if row.hazard == hazard.code]
        if rows:
            lines += ["", f"{hazard.name}: {_counts(row for row in rows if not row.cause.latent)}"]
            for row in rows:
                if row.status in (Status.OPEN, Status.NOT_JUDGED) or not open_only:
                    lines += _row_lines(row, explain)
    lines += ["", *_silence(table)]
    if table.unsolved:
        lines += ["", f"Not computed: {len(table.unsolved)} causes; treat each as open until it is computed:"]
        lines += [line for each in table.unsolved for line in _wrapped(f"{each.cause}: {each.reason}", "  ")]
    return "\n".join([*lines, "", *wrap(CAUTION, WIDTH)]) + "\n"


def table_data(table: CoverTable, *, open_only: bool = False) -> dict[str, Any]:
    """Return the table as dictionaries, lists, texts and SI numbers, each row self-contained."""
    rows = [row for row in table.rows if row.status is Status.OPEN] if open_only else table.rows
    return {
        "circuit": table.circuit,
        "digest": table.digest,
        "causes": table.causes,
        "counts": _numbers(table.rows),
        "latent_counts": _numbers(table.latent_rows),
        "rows": [_row_data(row) for row in rows],
        "unsolved": [{"cause": _cause_data(each.cause), "reason": each.reason} for each in table.unsolved],
        "not_judged": list(NOT_JUDGED),
        "not_judged_causes": [
            {"hazard": row.hazard, "cause": row.cause.title, "reason": row.steps[-1]}
            for row in table.rows
            if row.status is Status.NOT_JUDGED
        ],
        "caution": CAUTION,
    }


def _numbers(rows: Iterable[CoverRow]) -> dict[str, int]:
    rows = list(rows)
    return {str(status): sum(row.status is status for row in rows) for status in JUDGED}


def figures_words(figures: Figures | None) -> str:
    """Return in words what reaches the patient, in the usual units."""
    if figures is None:
        return "nothing is known"
    words = [] if figures.oxygen is None else [f"oxygen {per_cent(figures.oxygen):.1f} %"]
    words += [
        f"{AGENTS[code].name.lower()} {per_cent(share):.2f} %" for code, share in figures.agents.items() if share > 1e-5
    ]
    fresh, oxygen = (text_in(flow, "L/min") for flow in (figures.fresh_gas_m3_s, figures.fresh_oxygen_m3_s))
    words.append(f"fresh gas {fresh}, oxygen {oxygen.removesuffix(' L/min')} of it")
    if figures.airway_pa_gauge is not None:
        words.append(f"airway {text_in(figures.airway_pa_gauge, 'cmH2O')}")
    if figures.room_m3_s > 1e-9:
        words.append(f"{text_in(figures.room_m3_s, 'mL/min')} of waste gas into the room")
    return ", ".join(words)


def stopped_words(row: CoverRow) -> str:
    """Return what stops the hazard and what alarms on it, "" if nothing does."""
    names = [_name(code) for code in row.stopped_by]
    pieces = [f"stopped by {(' together with ' if row.together else ' or ').join(names)}"] if names else []
    if row.told_by:
        pieces.append(f"alarmed by {', '.join(map(_name, row.told_by))}")
    if row.noticed_by:
        pieces.append(f"noticed only by touch or sight: {', '.join(map(_name, row.noticed_by))}")
    return "; ".join(pieces)


def _silence(table: CoverTable) -> list[str]:
    """Return which hazards have no row, and why."""
    absent = [code for code in HAZARDS if not any(row.hazard == code for row in table.rows)]
    lines = []
    for words, codes in (
        ("No cause leads to", [code for code in absent if code not in NOT_JUDGED]),
        ("Not judged by a gas circuit", NOT_JUDGED),
    ):
        if codes:
            lines += wrap(f"{words}: {', '.join(HAZARDS[code].name.lower() for code in codes)}.", WIDTH)
    return lines


def _counts(rows: Iterable[CoverRow]) -> str:
    rows = list(rows)
    words = {status: "OPEN" if status is Status.OPEN else status.word for status in Status}
    return ", ".join(f"{sum(row.status is status for row in rows)} {word}" for status, word in words.items())


def _row_lines(row: CoverRow, explain: bool) -> list[str]:
    first = f"  {row.status.word.upper():<8}{row.cause.likelihood:<12}"
    mark = "Latent: " if row.cause.latent else ""
    lines = wrap(f"{mark}{row.cause}", WIDTH, initial_indent=first, subsequent_indent=INDENT)
    if row.status is Status.NOT_JUDGED:
        return [*lines, *_wrapped(row.steps[-1], INDENT)]
    for inside in row.beneath:
        lines += _wrapped(f"{inside.status.word} ({inside.cause.likelihood}): {inside.cause}", INDENT)
    if words := stopped_words(row):
        lines += _wrapped(words, INDENT)
    if explain:
        lines += [line for step in row.steps for line in _wrapped(f"- {step}", INDENT)]
        lines += _wrapped(f"Here: {figures_words(row.figures)}.", INDENT)
        lines += _wrapped(f"Without any safety feature: {figures_words(row.without)}.", INDENT)
    return lines


def _wrapped(text: str, indent: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")


def _name(code: str) -> str:
    return FEATURES[code].name.lower() if code in FEATURES else code


def _row_data(row: CoverRow) -> dict[str, Any]:
    return {
        "hazard": row.hazard,
        "cause": _cause_data(row.cause),
        "status": str(row.status),
        "stopped_by": list(row.stopped_by),
        "together": row.together,
        "told_by": list(row.told_by),
        "steps": list(row.steps),
        "figures": figures_to_dict(row.figures),
        "without": figures_to_dict(row.without),
        "noticed_by": list(row.noticed_by),
        "latent": bool(row.cause.latent),
        "causes": [
            {"cause": _cause_data(inside.cause), "status": str(inside.status), "stopped_by": list(inside.stopped_by)}
            for inside in row.beneath
        ],
    }


def _cause_data(cause: Cause) -> dict[str, Any]:
    return {
        "code": cause.code,
        "title": cause.title,
        "group": str(cause.group),
        "likelihood": str(cause.likelihood),
        "prevented_by": list(cause.prevented_by),
        "parts_of": list(cause.components_of),
        "noticed_by": list(cause.noticed_by),
        "latent": cause.latent,
    }
