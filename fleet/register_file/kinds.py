"""The kinds of file: the record of a row, the columns, and the columns that identify a row."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.dimensions import ALL_UNITS, MEASURABLE, MEASURABLE_SPELLINGS, UNIT_SPELLINGS, UNITS
from fleet.register_file.columns import (
    ASSET_NAMES,
    COLUMNS,
    SITE_NAMES,
    Column,
    ColumnKind,
    day,
    text,
    word,
)
from fleet.register_file.synonyms import names_of


@dataclass(frozen=True)
class FileKind:
    """A kind of file. `one` and `many` name its rows; `key` are the columns that no two rows may share.

    sign    the column without which a row names no record; the first of the key
    listed  columns that a preview shows of a new record
    """

    code: str
    title: str
    one: str
    many: str
    columns: Mapping[str, Column]
    key: tuple[str, ...]
    listed: tuple[str, ...]
    about: str

    def __reduce__(self):
        """Pickle by code: every process has the same kinds, and the code compares kinds by identity."""
        return kind_called, (self.code,)

    @property
    def sign(self) -> str:
        return self.key[0]

    @property
    def needed(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns.values() if column.is_needed)

    @property
    def header(self) -> tuple[str, ...]:
        """Return the columns of the template and of an export, in their order."""
        return tuple(column.name for column in self.columns.values() if not column.is_extra)

    @cached_property
    def names(self) -> dict[str, str]:
        return names_of(self.columns)

    def accepted_columns(self) -> str:
        fixed = [column.name for column in self.columns.values() if not column.is_feature and not column.is_extra]
        features = [column.name for column in self.columns.values() if column.is_feature]
        tail = f", and one column for each safety feature, such as {features[0]}" if features else ""
        return f"{', '.join(fixed)}{tail}."


def _by_name(*columns):
    return {column.name: column for column in columns}


def _number(name, help, names=(), *, needed=False, extra=False):
    return Column(name, ColumnKind.NUMBER, help, names=names, is_needed=needed, is_extra=extra)


def _rated_columns():
    """Return a column for each rated value of the catalogue; a key with two dimensions takes the units of both."""
    dimensions, labels = {}, {}
    for kind in COMPONENT_KINDS.values():
        for value in kind.rated:
            dimensions.setdefault(value.key, {})[value.dimension] = None
            labels.setdefault(value.key, value.label)
    return [
        Column(
            key,
            ColumnKind.QUANTITY,
            f"{label}, number and unit.",
            words=tuple(dict.fromkeys(unit for dimension in dimensions[key] for unit in UNITS[dimension])),
            names=(label,),
        )
        for key, label in labels.items()
    ]


MACHINES = FileKind(
    "machines", "Machines", "machine", "machines", COLUMNS, ("asset_number",),
    ("asset_number", "model", "site", "area", "built_year", "in_use_from", "duty"),
    "One row for each machine, identified by its asset number.",
)  # fmt: skip
RESULTS = ("within", "adjusted", "outside")
INSTRUMENT_CODE = text(
    "code", 30, "Code on the instrument's label.", (
        "instrument", "instrument code", "instrument no", "label", "asset", "asset no", "asset number", "tester no",
        "test equipment no", "id", "tag", "tag no", "equipment no",
    ), needed=True,
)  # fmt: skip
CERTIFICATE_NAMES = ("certificate no", "certificate number", "cert", "cert no", "certificate ref", "report no")
INSTRUMENTS = FileKind(
    "instruments", "Instruments and calibrations", "instrument", "instruments",
    _by_name(
        INSTRUMENT_CODE,
        text("name", 100, "Type of instrument.", ("description", "instrument name", "type", "model"), needed=True),
        text("serial", 60, "Manufacturer's serial number.", ("serial no", "serial number", "s n", "sn")),
        text("site", 100, "Code or name of the site where it is kept.", SITE_NAMES, needed=True),
        day("calibrated_on", "Date of a calibration.", (
            "calibrated", "calibration date", "cal date", "date calibrated", "last calibration", "last cal",
            "date of calibration",
        )),
        day("due_on", "Last day on which that calibration is valid.", (
            "due", "calibration due", "cal due", "due date", "next calibration", "next cal", "good until",
            "valid until",
            "expiry", "expires", "cal due date", "calibration due date",
        )),
        word("result", RESULTS, "Result of that calibration; blank means within.", ("outcome", "as found",
        "cal result"),
             spellings=(("pass", "within"), ("passed", "within"), ("within specification", "within"), ("ok", "within"),
                        ("adjusted to within", "adjusted"), ("fail", "outside"), ("failed", "outside"),
                        ("outside specification", "outside"))),
        text("certificate", 80, "Number of its certificate; identifies the calibration.", CERTIFICATE_NAMES),
        text("laboratory", 100, "Who calibrated it.", ("lab", "calibrated by", "calibration laboratory", "cal lab")),
        text("note", 300, "Note on that calibration.", ("notes", "comment", "comments", "remark", "remarks")),
        word("measures", MEASURABLE, "Quantity of one of its scales; pressures are gauge.", (
            "quantity", "dimension", "measured", "parameter",
        ), spellings=MEASURABLE_SPELLINGS),
        word("unit", ALL_UNITS, "Unit of the scale.", ("units",), spellings=UNIT_SPELLINGS),
        _number("low", "Lower end of the scale.", ("range from", "from", "minimum", "range low", "min")),
        _number("high", "Upper end of the scale.", ("range to", "to", "maximum", "range high", "max")),
        _number("resolution", "Resolution of the scale.", ("step", "smallest step")),
        _number("of_reading_percent", "Accuracy: % of reading.", ("of reading", "accuracy of reading",
        "accuracy % rdg")),
        _number("of_span_percent", "Accuracy: % of span.", ("of span", "accuracy of span", "accuracy % fs",
        "of full scale")),
        _number("absolute", "Accuracy: fixed term.", ("fixed", "accuracy fixed", "absolute accuracy")),
        _number("coverage_factor", "Coverage factor of the accuracy; 0 means hard limits, blank means 2.", ("k",)),
    ),
    ("code", "certificate", "measures", "unit", "low", "high"),
    ("code", "name", "site", "certificate", "calibrated_on", "due_on", "measures", "unit", "low", "high"),
    "One row for each instrument; further rows of the same code add further calibrations or scales.",
)  # fmt: skip
CERTIFICATE_POINTS = FileKind(
    "certificate-points", "Points of calibration certificates", "row of points", "rows of points",
    _by_name(
        INSTRUMENT_CODE,
        text("certificate", 80, "Number of the certificate, as recorded with the calibration.", CERTIFICATE_NAMES,
             needed=True),
        word("unit", ALL_UNITS, "Unit of every figure of the row; pressures are gauge.", ("units",),
             spellings=UNIT_SPELLINGS, needed=True),
        _number("reference", "True value, as the laboratory states it.", (
            "nominal", "reference value", "true value", "standard", "applied", "applied value", "test point",
        ), needed=True),
        _number("reading", "What the instrument showed there.", ("indicated", "indication", "shown", "measured value",
                                                                 "uut reading")),
        word("condition", ("found", "left", "both"),
             "Whether the reading was taken as found, as left after adjustment, or counts as both; blank means both.",
             ("state",), spellings=(("as found", "found"), ("before", "found"), ("before adjustment", "found"),
                                    ("as left", "left"), ("after", "left"), ("after adjustment", "left"))),
        _number("as_found", "Reading as found, in place of a reading with its condition.", ("found reading",),
                extra=True),
        _number("as_left", "Reading as left, in place of a reading with its condition.", ("left reading",), extra=True),
        _number("error", "Reading less reference, in place of the reading.", ("deviation", "indication error"),
                extra=True),
        _number("uncertainty", "Expanded uncertainty of the error, above 0.", (
            "expanded uncertainty", "u", "uncertainty u", "measurement uncertainty",
        ), needed=True),
        _number("k", "Coverage factor of the uncertainty; blank means 2.", ("coverage factor",)),
        _number("low", "Lower end of the scale in that unit, where several scales measure it.", ("range from",)),
        _number("high", "Upper end of the scale in that unit, where several scales measure it.", ("range to",)),
    ),
    ("code", "certificate", "unit", "low", "high", "reference", "reading", "condition", "as_found", "as_left", "error"),
    ("code", "certificate", "unit", "reference", "reading", "condition", "as_found", "as_left", "error", "uncertainty"),
    "One row for each point of a certificate that is recorded already. Points are added to those recorded; a point "
    "that is recorded stays as it is.",
)  # fmt: skip
COMPONENTS = FileKind(
    "components", "Components with serial numbers and lots", "component", "components",
    _by_name(
        text("asset_number", 40, "Asset number of the machine to which it is fitted.", ASSET_NAMES, needed=True),
        text("label", 80, "Name of the component on this machine.", (
            "part", "part name", "component", "description", "position", "component name",
        ), needed=True),
        day("fitted_on", "Date on which it was fitted.", ("fitted", "date fitted", "installed", "installed on", "from"),
            needed=True),
        text("kind", 80, "Code or name of the kind of component.", ("part kind", "component kind", "type",
        "part type"), needed=True),
        text("gas", 40, "Gas it carries, where it carries one.", ("gas type", "for gas")),
        text("maker_part", 60, "Manufacturer's part number.", (
            "manufacturer part", "manufacturer part no", "manufacturer part number", "manufacturers part number",
            "mfr part no", "part no", "part number", "p n", "pn", "catalogue no", "ref",
        )),
        text("serial", 60, "Serial number.", ("serial no", "serial number", "s n", "sn")),
        text("lot", 60, "Lot or batch.", ("lot no", "lot number", "batch", "batch no", "batch number")),
        day("removed_on", "Date on which it was removed.", ("removed", "date removed", "until")),
        text("note", 300, "Anything else.", ("notes", "comment", "comments", "remark", "remarks")),
        *_rated_columns(),
    ),
    ("asset_number", "label", "fitted_on"),
    ("asset_number", "label", "kind", "serial", "lot", "fitted_on", "removed_on"),
    "One row for each component of a machine's gas circuit, identified by its machine, its label and its fitting date.",
)  # fmt: skip
EARLIER = FileKind(
    "earlier-inspections", "Earlier inspections", "earlier inspection", "earlier inspections",
    _by_name(
        text("asset_number", 40, "Asset number of the machine that was inspected.", ASSET_NAMES, needed=True),
        day("done_on", "Date of the inspection.", (
            "done", "date", "date done", "inspection date", "date of inspection", "completed", "completion date",
            "service date", "date of service", "last service", "last inspection", "last pm", "pm date",
            "date completed",
        ), needed=True),
        text("procedure", 120, "What was done, as worded in the old record.", (
            "inspection", "inspection type", "work", "job type", "service type", "procedure name", "pm type", "type",
            "work type", "task", "service",
        ), needed=True),
        text("result", 200, "The result, as worded in the old record.", (
            "outcome", "pass fail", "status", "results", "result of inspection",
        )),
        text("done_by", 100, "Inspector.", ("by", "technician", "engineer", "inspected by", "performed by", "tech")),
        text("reference", 80, "Number of the old record.", (
            "record no", "report", "report no", "work order", "work order no", "wo", "wo no", "job no", "job number",
        )),
        text("counts_as", 40, "Code of the procedure towards whose next due date it counts; blank for none.", (
            "counts as", "counts for",
        )),
    ),
    ("asset_number", "done_on", "procedure"),
    ("asset_number", "done_on", "procedure", "result", "done_by", "reference", "counts_as"),
    "One row for each inspection recorded elsewhere. It is stored as given, marked as recorded elsewhere, and "
    "never judged.",
)  # fmt: skip
KINDS: Mapping[str, FileKind] = {
    kind.code: kind for kind in (MACHINES, INSTRUMENTS, CERTIFICATE_POINTS, COMPONENTS, EARLIER)
}


def kind_called(code: str) -> FileKind:
    return KINDS[code]
