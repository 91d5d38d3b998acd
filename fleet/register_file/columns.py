"""The types of columns of a register file, and the columns of machines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue import FEATURES
from fleet.register_file.spellings import STATES
from fleet.register_file.synonyms import FEATURE_NAMES

STATUSES = ("in service", "withdrawn", "retired")


class ColumnKind(StrEnum):
    TEXT = "text"
    YEAR = "year"
    DATE = "date"
    WORD = "word"  # one of a few words, with other spellings
    STATE = "state"  # fitted, not fitted, not known
    SIZE = "size"  # connector sizes, which imply states of features
    NUMBER = "number"
    QUANTITY = "quantity"  # a number and its unit


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a kind of file.

    words      accepted ones of a WORD; `spellings` maps others to them; units of a QUANTITY
    is_needed  required for a new record
    names      other names of the header, as synonyms.plain_name leaves them
    is_extra   read, but neither in the template nor in an export, because other columns hold the same
    """

    name: str
    kind: ColumnKind
    help: str
    longest: int = 0
    words: Sequence[str] = ()
    spellings: Sequence[tuple[str, str]] = ()
    is_needed: bool = False
    is_feature: bool = False
    is_extra: bool = False
    names: tuple[str, ...] = ()


def text(name, longest, help, names=(), *, needed=False):
    return Column(name, ColumnKind.TEXT, help, longest, is_needed=needed, names=tuple(names))


def day(name, help, names=(), *, needed=False):
    return Column(name, ColumnKind.DATE, help, is_needed=needed, names=tuple(names))


def word(name, words, help, names=(), *, spellings=(), needed=False):
    return Column(name, ColumnKind.WORD, help, words=words, spellings=spellings, is_needed=needed, names=tuple(names))


ASSET_NAMES = (
    "asset", "asset no", "asset nr", "asset id", "asset tag", "asset code", "tag", "tag no", "tag number",
    "equipment no",
    "equipment number", "equipment id", "equip no", "equip id", "inventory no", "inventory number", "inv no",
    "device id",
    "device no", "machine", "machine no", "machine number", "machine id", "plant no", "plant number", "bme no",
    "bio med no", "biomed no", "control no", "control number", "unit no", "id no",
)  # fmt: skip
SITE_NAMES = ("hospital", "facility", "campus", "site code", "site name", "hospital name", "location site", "premises")
FIXED = (
    text("asset_number", 40, "Identifies the machine; only once in a file.", ASSET_NAMES, needed=True),
    text("serial", 60, "Manufacturer's serial number.", (
        "serial no", "serial nr", "serial number", "ser no", "s n", "sn", "makers serial number",
        "manufacturers serial number", "manufacturer serial number", "mfr serial no", "serial num",
    )),
    text("model", 160, "Code of the machine model, or manufacturer and name.", (
        "type", "model code", "model name", "machine model", "machine type", "make and model", "make model", "model no",
        "equipment type", "model type",
    ), needed=True),
    text("site", 100, "Code or name of the site.", SITE_NAMES, needed=True),
    text("area", 100, "Name of an area of that site.", (
        "location", "loc", "dept", "department", "theatre", "operating theatre", "or", "operating room", "room", "ward",
        "place", "area of use", "suite", "ot", "theater",
    ), needed=True),
    Column("built_year", ColumnKind.YEAR, "Year of manufacture, four digits.", names=(
        "built", "year built", "year of build", "build year", "year", "yom", "year of manufacture", "manufactured",
        "date of manufacture", "mfg date", "mfg year", "manufacture year", "year made", "yr built", "manufacture date",
    )),
    day("in_use_from", "First day of use.", (
        "in use", "in use since", "in service from", "in service since", "in service date", "commissioned",
        "commissioning date", "date commissioned", "commission date", "installed", "installation date", "install date",
        "date installed", "date in service", "acceptance date", "date of acceptance", "accepted", "first use",
        "put into use", "put in service", "start date",
    ), needed=True),
    word("duty", STATUSES, "Status of the machine; blank means in service for a new machine.", (
        "status", "machine status", "service status", "asset status", "equipment status",
    ), spellings=(
        ("active", "in service"), ("in use", "in service"), ("working", "in service"), ("operational", "in service"),
        ("withdrawn from use", "withdrawn"), ("out of use", "withdrawn"), ("out of service", "withdrawn"),
        ("oos", "withdrawn"), ("quarantined", "withdrawn"), ("quarantine", "withdrawn"),
        ("off duty", "withdrawn"), ("scrapped", "retired"), ("disposed", "retired"), ("decommissioned", "retired"),
        ("condemned", "retired"),
    )),
    text("note", 2000, "Anything else.", ("notes", "comment", "comments", "remark", "remarks", "observations")),
)  # fmt: skip
LAST_INSPECTED = "last_inspected_on"
INSPECTED = (
    Column(LAST_INSPECTED, ColumnKind.DATE, "Day of the last inspection elsewhere; the first due date follows.",
           is_extra=True, names=(
        "last inspected", "last inspection", "last inspection date", "date of last inspection", "inspected on",
        "last service", "last service date", "last serviced", "date of last service", "last pm", "last pm date",
        "pm date", "last ppm", "last ppm date", "last maintenance", "last maintenance date", "last tested",
        "last test date", "last check", "last checked",
    )),
)  # fmt: skip
SIZES = (
    Column("scavenging_connector", ColumnKind.SIZE, "Size of the waste gas connectors, mm.", is_extra=True, names=(
        "scavenging", "scavenging size", "scavenging connector mm", "scav", "scav connector", "scav size", "scav mm",
        "agss connector", "agss size", "agss", "agss mm", "wagd connector", "wagd size", "wagd", "waste gas connector",
        "scavenging mm", "scavenging connector size",
    )),
    Column("breathing_connector", ColumnKind.SIZE, "Size of the breathing connectors, mm.", is_extra=True, names=(
        "breathing connector size", "breathing connector mm", "breathing system connector", "breathing size",
        "circuit connector", "circuit size", "patient connector", "connector size", "cone size", "breathing mm",
    )),
)  # fmt: skip


def _feature_column(feature):
    names = (*FEATURE_NAMES.get(feature.code, ()), feature.name)
    return Column(feature.code, ColumnKind.STATE, feature.name, words=STATES, is_feature=True, names=names)


COLUMNS: Mapping[str, Column] = {
    column.name: column
    for column in (*FIXED, *INSPECTED, *(_feature_column(feature) for feature in FEATURES.values()), *SIZES)
}
