"""Formats numbers for drawings and records: round ticks, a true minus sign, a value rounded to its uncertainty."""

from math import ceil, floor, isfinite, log10

from fleet.place_format import current, with_decimal_sign

MINUS = "\N{MINUS SIGN}"
_PLAIN_FROM, _PLAIN_TO = 1e-4, 1e7
_TICK_DECIMALS = 6


def number(value: float, decimals: int | None = None) -> str:
    """Return a number with a true minus sign and the decimal sign of the place that is shown now.

    `decimals` None gives 4 significant figures at most.

    Numbers of 1e7 and more, or below 1e-4, are written with a power of ten.
    """
    if not isfinite(value):
        raise ValueError(f"A number to be shown must be finite, not {value!r}.")
    if value != 0 and not _PLAIN_FROM <= abs(value) < _PLAIN_TO:
        text = f"{value:.3g}"
    elif decimals is None:
        text = f"{value:.0f}" if abs(value) >= 1e4 else f"{value:.4g}"
    else:
        text = f"{value:.{max(decimals, 0)}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return with_decimal_sign(text.replace("-", MINUS), current().decimal)


def uncertainty_decimals(uncertainty: float) -> int:
    """Return the decimals that show an uncertainty to two significant figures. Source: JCGM 100:2008, 7.2.6."""
    return max(0, 1 - floor(log10(uncertainty)))


def with_uncertainty(value: float, uncertainty: float) -> str:
    """Return "21.30 ± 0.42": the value to the last place of its expanded uncertainty, in one unit.

    An uncertainty of zero is left out. Source: JCGM 100:2008, 7.2.6 (two significant figures, same last place).
    """
    if uncertainty <= 0:
        return number(value)
    if not _PLAIN_FROM <= uncertainty < _PLAIN_TO or abs(value) >= _PLAIN_TO:
        return f"{number(value)} ± {number(uncertainty)}"
    decimals = uncertainty_decimals(uncertainty)
    return f"{number(value, decimals)} ± {number(uncertainty, decimals)}"


def nice_step(span: float, count: int) -> float:
    """Return the step of 1, 2 or 5 times a power of ten that divides `span` > 0 into at most `count` intervals."""
    rough = span / max(count, 1)
    power = 10.0 ** floor(log10(rough))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= rough * (1 - 1e-9))


def nice_ticks(low: float, high: float, count: int) -> list[float]:
    """Return round numbers within [low, high], at most about `count` of them. low < high."""
    step = nice_step(high - low, count)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [index * step for index in range(first, last + 1)]


def tick_texts(ticks: list[float]) -> list[str]:
    """Return the ticks as text, all with the decimals that their step needs."""
    if len(ticks) < 2:
        return [number(tick) for tick in ticks]
    decimals = max(0, -floor(log10(ticks[1] - ticks[0]) + 1e-9))
    if decimals > _TICK_DECIMALS:
        return [number(tick) for tick in ticks]
    return [number(tick, decimals) for tick in ticks]
