"""The readings of one sheet that a certificate corrects, and what the record says of that."""

from dataclasses import dataclass, field, replace

from .declarations import ReadingSpec
from .instruments import Scale
from .propagation import Measured
from .quantities import Dimension, from_si, interval_from_si


@dataclass(slots=True)
class Corrections:
    """Corrects readings, and notes each place once: what was corrected, and what no point reaches.

    ambient_pa_abs  no corrected pressure is below a vacuum
    """

    ambient_pa_abs: float
    _shifts: dict[tuple[str, str, str], dict[str, tuple[float, str]]] = field(default_factory=dict)
    _beyond: dict[tuple[str, str, str, str], set[str]] = field(default_factory=dict)

    def covers(self, scale: Scale, value_si: float, spec: ReadingSpec, unit: str, place: tuple[str, str]) -> bool:
        """Return whether the points of the certificate reach a reading in the gas in which it was read, and note it.

        unit, place  in which it was read; the code of the instrument and the place on the sheet

        How an analyser errs in one gas says nothing of another, and a certificate states none: where a test reads two
        gases, the flow of neither is corrected.
        """
        (code, where), correction = place, scale.correction
        if spec.gas and spec.dimension is Dimension.FLOW:
            why = "the certificate says nothing of the gas"
        elif not correction.covers(value_si):
            ends = (correction.readings_si[0], correction.readings_si[-1])
            low, high = (_figures(from_si(end, unit), 4) for end in ends)
            why = f"beyond the points of the certificate, {low} to {high} {unit}"
        else:
            shift = -interval_from_si(correction.error_at(value_si), unit)
            group = self._shifts.setdefault((code, correction.certificate, str(spec.dimension)), {})
            group[where] = (shift, unit)
            return True
        label = spec.label[:1].lower() + spec.label[1:]
        self._beyond.setdefault((code, correction.certificate, label, why), set()).add(where)
        return False

    def corrected(self, found: Measured, scale: Scale, spec: ReadingSpec, key: tuple[str, int]) -> Measured:
        """Return a reading less the error that the certificate states there.

        What the correction leaves uncertain is the error that readings of the scale share, in place of the accuracy.
        """
        correction = scale.correction
        value = self._possible(found.value - correction.error_at(found.value), spec)
        if not correction.replaces_accuracy:
            std, excess = scale.accuracy_std(found.value), scale.accuracy.excess
            return replace(found, value=value, shared_std=std, shared_excess=excess, scale=key)
        own = (f"{key[0]}, {correction.certificate}", key[1])
        return replace(found, value=value, shared_std=correction.std_at(found.value), scale=own)

    def _possible(self, value_si: float, spec: ReadingSpec) -> float:
        """Return the value, held at what the quantity can be."""
        if spec.dimension is Dimension.PRESSURE:
            return max(value_si, -self.ambient_pa_abs)
        if not spec.dimension.entry.may_be_negative:
            value_si = max(value_si, 0.0)
        return min(value_si, 1.0) if spec.dimension is Dimension.FRACTION else value_si

    def sentences(self) -> list[str]:
        """Return what the record says: which certificate corrected how many readings, by how much, and which not."""
        found = []
        for (code, certificate, dimension), group in self._shifts.items():
            count, unit = len(group), next(iter(group.values()))[1]
            shifts = sorted(shift for shift, one in group.values() if one == unit)
            low, high = _figures(shifts[0], 2), _figures(shifts[-1], 2)
            by = f"by {low} {unit}" if low == high else f"by {low} to {high} {unit}"
            readings = f"{count} {dimension} reading{'' if count == 1 else 's'}"
            found.append(f"Corrected by certificate {certificate} of instrument {code}: {readings}, {by}.")
        for (code, certificate, label, why), places in self._beyond.items():
            times = "" if len(places) == 1 else f" ({len(places)} readings)"
            found.append(f"Not corrected by certificate {certificate} of instrument {code}: {label}{times}, {why}.")
        return found


def _figures(value: float, count: int) -> str:
    """Return a number with so many significant figures, without an exponent."""
    return f"{float(f'{value:.{count}g}'):.10f}".rstrip("0").rstrip(".") or "0"
