"""Exports a cover table: CSV rows for a spreadsheet, or JSON with all results."""

import json

from fleet.catalogue import HAZARDS
from fleet.circuit.cover_rows import CoverRow
from fleet.circuits.covers.rows_in_words import ShownRow, feature_names

CSV_HEADER = (
    "hazard", "cause", "begins_with", "met", "status", "stopped_by", "only_together", "told_by", "prevented_by",
    "oxygen_percent", "fresh_gas_l_min", "fresh_oxygen_l_min", "airway_cmh2o",
    "oxygen_percent_without_protections", "explanation", "latent", "noticed_by", "causes_beneath",
)  # fmt: skip
L_MIN, CMH2O = 60_000, 1 / 98.0665


def csv_row(row: CoverRow):
    """Return one row of a table in the order of CSV_HEADER; figures are numbers, or empty."""
    shown, figures, without = ShownRow(row), row.figures, row.without
    return [
        shown.hazard,
        shown.cause,
        shown.group,
        shown.likelihood,
        shown.status,
        "; ".join(feature_names(row.stopped_by)),
        "yes" if row.together else "no",
        "; ".join(feature_names(row.told_by)),
        "; ".join(feature_names(row.cause.prevented_by)),
        _number(figures and figures.oxygen, 100),
        _number(figures and figures.fresh_gas_m3_s, L_MIN),
        _number(figures and figures.fresh_oxygen_m3_s, L_MIN),
        _number(figures and figures.airway_pa_gauge, CMH2O),
        _number(without and without.oxygen, 100),
        " ".join(row.steps),
        "yes" if row.cause.latent else "no",
        "; ".join(feature_names(row.noticed_by)),
        "; ".join(f"{inside.cause.title} ({inside.status.word})" for inside in row.beneath),
    ]


def _number(value, factor):
    return "" if value is None else round(value * factor, 3)


def as_json(machine, kept):
    """Return all stored results of a machine's circuit as JSON text. SI units; pressures gauge, flows at 20 C."""
    cover = kept.cover
    content = {
        "machine": machine.asset_number,
        "model": str(machine.model),
        "basis": kept.basis,
        "measured": kept.measured,
        "on": kept.on.isoformat(),
        "computed_at": cover.computed_at.isoformat(),
        "software": cover.software,
        "hazards": {code: hazard.name for code, hazard in HAZARDS.items()},
        "cover": cover.table,
        "shown": cover.shown,
        "closing": cover.closing,
    }
    return json.dumps(content, indent=1, ensure_ascii=False)
