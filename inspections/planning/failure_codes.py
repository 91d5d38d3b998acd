"""The codes of findings: why something was wrong, how it was found, and which of it was a hidden failure.

Plain Python. The codes are in failure_codes.toml.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType

FILE = Path(__file__).with_name("failure_codes.toml")
SHOWN_BY_A_CHECK = frozenset({"inspection", "recall"})


class Hidden(StrEnum):
    """Whether a code counts as a hidden failure."""

    YES = "yes"
    NO = "no"
    AS_FOUND = "as found"


class Preventable(StrEnum):
    YES = "yes"
    NO = "no"
    PERHAPS = "perhaps"


@dataclass(frozen=True, slots=True)
class FailureCode:
    """Why something was found wrong; see the head of failure_codes.toml."""

    code: str
    title: str
    meaning: str
    hidden: Hidden
    preventable: Preventable

    def is_hidden(self, found_how: str) -> bool:
        """Whether a finding of this code, found in the way `found_how`, was a hidden failure."""
        if self.hidden is Hidden.AS_FOUND:
            return found_how in SHOWN_BY_A_CHECK
        return self.hidden is Hidden.YES

    @property
    def counts_as(self) -> str:
        """What it counts as, in words."""
        return {
            Hidden.YES: "hidden",
            Hidden.NO: "not hidden",
            Hidden.AS_FOUND: "hidden if an inspection or a recall found it",
        }[self.hidden]


def read_codes(text: str) -> Mapping[str, FailureCode]:
    """Return the codes of a TOML text by their code, in its order.

    Raises ValueError for a code that is there twice, and for another value of `hidden` or `preventable`.
    """
    codes: dict[str, FailureCode] = {}
    for entry in tomllib.loads(text)["code"]:
        if entry["code"] in codes:
            raise ValueError(f"the code {entry['code']!r} is there twice; give each code once")
        hidden, preventable = Hidden(entry["hidden"]), Preventable(entry["preventable"])
        codes[entry["code"]] = FailureCode(**entry | {"hidden": hidden, "preventable": preventable})
    return MappingProxyType(codes)


CODES = read_codes(FILE.read_text(encoding="utf-8"))


def hidden_pairs(found_hows: tuple[str, ...]) -> frozenset[tuple[str, str]]:
    """Return every pair of code and way of finding that counts as a hidden failure."""
    return frozenset(
        (code.code, found_how) for code in CODES.values() for found_how in found_hows if code.is_hidden(found_how)
    )
