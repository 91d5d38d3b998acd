"""Header names as hospitals write them, in one plain form.

The names are trade words and abbreviations in use: common practice, no source.
"""

import re
from collections.abc import Mapping

FEATURE_NAMES: Mapping[str, tuple[str, ...]] = {
    "o2-failure-protection": ("oxygen failure protection", "o2 failure device", "fail safe", "failsafe",
    "o2 fail safe"),
    "o2-supply-alarm": ("oxygen failure alarm", "o2 failure alarm", "low o2 pressure alarm", "o2 supply alarm"),
    "ratio-protection": (
        "ratio control", "proportioning", "proportioning system", "anti hypoxia", "anti hypoxic device",
        "hypoxic guard",
        "hypoxia guard", "o2 n2o ratio", "oxygen ratio control", "minimum oxygen ratio",
    ),
    "o2-last": ("o2 downstream", "oxygen downstream", "oxygen last", "o2 last in bank"),
    "o2-control-profile": ("profiled o2 knob", "fluted o2 knob", "touch coded o2 control", "o2 knob"),
    "o2-analyser": ("oxygen analyser", "oxygen analyzer", "o2 analyzer", "o2 monitor", "fio2 monitor", "fio2"),
    "pin-index": ("pin index", "pin indexed yokes", "pin index safety system"),
    "pipeline-gas-specific": ("diss", "nist", "gas specific inlets", "gas specific hoses"),
    "yoke-check-valve": ("yoke check valve", "yoke nrv", "hanger yoke check valve"),
    "pipeline-check-valve": ("pipeline check valve", "pipeline nrv", "inlet check valve"),
    "main-switch": ("master switch", "on off switch", "main on off switch"),
    "vaporizer-exclusion": ("vaporiser exclusion", "vaporizer interlock", "vaporiser interlock", "interlock"),
    "keyed-filler": ("keyed fillers", "keyed filling", "agent specific filling", "key filler"),
    "outlet-check-valve": ("outlet nrv", "machine outlet check valve", "back pressure check valve",
    "common outlet nrv"),
    "outlet-retention": ("cgo retention", "outlet retaining device", "fgo retention"),
    "breathing-connectors": ("22 15 connectors", "22 15 mm connectors", "breathing connectors 22 15"),
    "outlet-relief": ("outlet relief", "outlet prv", "machine relief valve"),
    "apl-excluded": ("apl excluded", "apl isolated in vent"),
    "bag-vent-selector": ("bag vent switch", "bag ventilator switch", "bag vent selector"),
    "airway-pressure-alarm": ("high airway pressure alarm", "paw alarm", "airway alarm"),
    "low-pressure-alarm": ("disconnect alarm", "disconnection alarm", "low airway pressure alarm"),
    "scavenging-30mm": ("30 mm scavenging", "scavenging 30 mm", "agss 30 mm"),
    "battery-reserve": ("battery", "battery backup", "battery back up", "ups"),
    "protective-earth": ("earth", "ground", "protective ground"),
}  # fmt: skip
# Words and signs with the same meaning anywhere in a header.
SAME = (
    (re.compile(r"o₂"), "o2"),
    (re.compile(r"n₂o"), "n2o"),
    (re.compile(r"№|#|\bnr\b|\bnum\b"), " no "),
    (re.compile(r"&"), " and "),
    (re.compile(r"'s\b"), "s"),
    (re.compile(r"[^\w]+|_"), " "),
    (re.compile(r"\byyyy mm dd\b|\bdd mm yyyy\b|\bmm dd yyyy\b"), " "),
)


def plain_name(text: str) -> str:
    """Return a header in lower case without punctuation: “Asset No. ” and “ASSET-NO” are both “asset no”."""
    name = text.lower()
    for pattern, same in SAME:
        name = pattern.sub(same, name)
    return " ".join(name.split())


def names_of(columns: Mapping) -> dict[str, str]:
    """Return plain header name -> column name, for the columns' own names and their synonyms."""
    found = {plain_name(name): column.name for column in columns.values() for name in column.names}
    return found | {plain_name(name): name for name in columns}
