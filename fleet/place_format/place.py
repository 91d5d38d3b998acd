"""What a place has chosen, as one frozen value."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.place_format.days import DAY_STYLES, DEFAULT_STYLE

DECIMAL_SIGNS = {".": "Point, 3.1", ",": "Comma, 3,1"}
PAPER_SIZES = {"A4": "A4, 210 × 297 mm", "Letter": "Letter, 8.5 × 11 in"}


@dataclass(frozen=True, slots=True)
class PlaceFormat:
    """Decimal sign, day style, paper and units of a place.

    decimal  "." or ","
    day      code of DAY_STYLES
    paper    code of PAPER_SIZES
    units    (code of a UnitChoice, unit symbol) pairs; what is not among them keeps the unit of its test
    zone     name of the IANA list, empty where none belongs to what is shown
    """

    decimal: str = "."
    day: str = DEFAULT_STYLE
    paper: str = "A4"
    units: tuple[tuple[str, str], ...] = ()
    zone: str = ""

    def unit_of(self, choice: str) -> str | None:
        """Return the preferred unit of a UnitChoice, None where none is preferred."""
        return dict(self.units).get(choice)

    def as_dict(self) -> dict:
        """Return the format as plain data, to be frozen with what was signed."""
        return {
            "decimal": self.decimal,
            "day": self.day,
            "paper": self.paper,
            "units": dict(self.units),
            "time_zone": self.zone,
        }

    @classmethod
    def from_dict(cls, data: Mapping) -> "PlaceFormat":
        """Return what `as_dict` gave. A code that is no longer known falls back to the default."""
        return cls(
            decimal=data["decimal"] if data["decimal"] in DECIMAL_SIGNS else ".",
            day=data["day"] if data["day"] in DAY_STYLES else DEFAULT_STYLE,
            paper=data["paper"] if data["paper"] in PAPER_SIZES else "A4",
            units=tuple(sorted(data["units"].items())),
            zone=data["time_zone"],
        )


NEUTRAL = PlaceFormat()
