"""What a place showed at the last inspection, in the unit of today, with what was read where that is another."""

from dataclasses import dataclass

from fleet.catalogue.dimensions import find_unit
from fleet.place_format import choice_of, current, rounded_quantity, with_decimal_sign
from fleet.place_format.place import PlaceFormat
from inspections.models import Reading


@dataclass(frozen=True, slots=True)
class LastTime:
    """A reading of the last inspection for a place that starts in `unit`."""

    reading: Reading
    unit: str

    @property
    def as_read(self):
        """As it was read: “358 kPa”, or the option that was chosen."""
        if self.reading.unit in ("", "yes/no"):
            return self.reading.as_read
        return f"{with_decimal_sign('; '.join(self.reading.all_read), current().decimal)} {self.reading.unit}"

    @property
    def is_converted(self):
        return self.shown != self.as_read

    @property
    def shown(self):
        """In the unit of the place, to the step of its last digit: “51.9 psi” for 358 kPa."""
        read, wanted = find_unit(self.reading.unit), find_unit(self.unit)
        if not read or not wanted or self.reading.unit == self.unit or read[0].code != wanted[0].code:
            return self.as_read
        return "; ".join(self._in_unit(digits) for digits in self.reading.all_read)

    def _in_unit(self, digits):
        decimals = len(digits.partition(".")[2])
        units = ((choice_of(self.reading.unit), self.unit),)
        return rounded_quantity(float(digits), self.reading.unit, decimals, PlaceFormat(current().decimal, units=units))

    @property
    def zero(self):
        """“ absolute” for an absolute pressure, else empty."""
        return " absolute" if self.reading.zero == "absolute" else ""
