"""The symbol of every component kind, within BODY_W by BODY_H points around its middle; gas flows to the right."""

from collections.abc import Callable, Mapping

from reportlab.graphics.shapes import Circle, Group, Polygon, PolyLine, Rect

from fleet.circuit.drawing.sheet import BODY_W
from fleet.drawing import ACCENT, ACCENT_WASH, INK, SHEET, SOFT, float_marker, rule

WIDE = ("flow-bank", "electronic-mixer", "ratio-protection", "ventilator", "bag-vent-selector", "vaporizer-rail")
W = 1.3
_SQUARE = 13.0  # half a side


def line(*points, width=W, colour=INK, fill=None):
    return PolyLine(list(points), strokeColor=colour, strokeWidth=width, fillColor=fill)


def shape(*points, fill=SHEET, colour=INK):
    return Polygon(list(points), fillColor=fill, strokeColor=colour, strokeWidth=W)


def ring(x, y, r, fill=SHEET):
    return Circle(x, y, r, fillColor=fill, strokeColor=INK, strokeWidth=W)


def block(x, y, width, height, fill=SHEET, radius=0):
    return Rect(x, y, width, height, rx=radius, ry=radius, fillColor=fill, strokeColor=INK, strokeWidth=W)


def leads(reach, left=True, right=True):
    """Return the stubs from the edge of the body to a shape that reaches `reach` points from the middle."""
    half = BODY_W / 2
    stubs = [rule(-half, 0, -reach, 0, width=W)] if left else []
    return stubs + ([rule(reach, 0, half, 0, width=W)] if right else [])


def spring(x, y, length):
    """Return a spring that starts at (x, y) and points up."""
    step = length / 4
    turns = [(x + (3 if index % 2 else -3), y + step * (index + 0.5)) for index in range(4)]
    return line(x, y, *(component for point in turns for component in point), x, y + length, width=1.1)


def arrow(x1, x2, y=0.0):
    tip = 4 if x2 > x1 else -4
    return Group(rule(x1, y, x2 - tip, y, width=W), shape(x2, y, x2 - tip, y + 3, x2 - tip, y - 3, fill=INK))


def _valve(*inside, right=True):
    return Group(*leads(_SQUARE, right=right), block(-_SQUARE, -_SQUARE, 2 * _SQUARE, 2 * _SQUARE), *inside)


def _pipeline_inlet():
    return Group(
        *leads(15, left=False), block(-23, -15, 8, 30, ACCENT_WASH), block(-15, -8, 30, 16),
        rule(-5, -8, -5, 8, width=W), rule(5, -8, 5, 8, width=W),
    )  # fmt: skip


def _cylinder():
    body = shape(-7, -16, -7, 6, -3, 11, 3, 11, 7, 6, 7, -16)
    return Group(*leads(3, left=False), body, block(-3, 11, 6, 5, INK), line(3, 13.5, 14, 13.5, 14, 0))


def _plug():
    return Group(*leads(8, right=False), shape(-8, -9, 8, -6, 8, 6, -8, 9, fill=INK))


def _filter():
    return Group(*leads(14), shape(-14, 0, 0, 14, 14, 0, 0, -14), rule(0, 13, 0, -13, width=W, dash=[3, 2]))


def _check_valve():
    return Group(*leads(11), line(-11, 0, 3, 12), line(-11, 0, 3, -12), ring(2, 0, 6.5), rule(9, 11, 9, -11, width=W))


def _one_way_valve():
    return Group(*leads(14), ring(0, 0, 14), rule(-5, 9, -5, -9, width=2.4), arrow(-1, 11))


def _gauge():
    return Group(*leads(13, right=False), ring(0, 0, 13), line(-5, -5, 6, 6), shape(8, 8, 6, 3, 3, 6, fill=INK))


def _regulator():
    return _valve(arrow(-10, 10, -4), spring(0, 2, 10))


def _regulator_cutoff():
    return _valve(arrow(-10, 10, -5), rule(-9, 3, 9, 3, width=W), shape(0, 4, 4, 12, -4, 12, fill=INK))


def _supply_failure_valve():
    return _valve(
        rule(0, 13, 0, -13, width=W), arrow(2, 12), line(-10, 5, -4, 5), line(-7, 5, -7, -5), line(-10, -5, -4, -5),
        shape(0, 9, 3.5, 17, -3.5, 17, fill=INK),
    )  # fmt: skip


def _alarm():
    bell = shape(-11, -8, -7, -4, -7, 4, -3, 11, 3, 11, 7, 4, 7, -4, 11, -8)
    return Group(*leads(8, right=False), bell, Circle(0, -11, 2.5, fillColor=INK, strokeColor=None))


def _relief():
    return _valve(arrow(-10, 10, -5), spring(0, -1, 13), right=True)


def _apl():
    return _valve(arrow(-10, 10, -6), spring(0, -2, 13), line(-8, 2, 8, 12), shape(9, 13, 8, 8, 5, 12, fill=INK))


def _switch():
    return Group(*leads(14), ring(0, 0, 14), rule(0, -8, 0, 8, width=3), rule(-5, 8, 5, 8, width=W))


def _flow_control():
    return Group(
        *leads(9), rule(-9, 0, 9, 0, width=W), line(-9, 9, -5, 4, 5, 4, 9, 9), line(-9, -9, -5, -4, 5, -4, 9, -9),
        line(-11, -14, 8, 11), shape(11, 15, 10.5, 9, 5.5, 12.5, fill=INK),
    )  # fmt: skip


def _flowmeter():
    tube = shape(-4, -17, -8, 17, 8, 17, 4, -17)
    ticks = [rule(3, y, 6, y, width=1) for y in (-8, -2, 4, 10)]
    return Group(*leads(6), tube, *ticks, float_marker(-1, -4, 9))


def _flow_bank():
    return Group(
        block(-23, -16, 46, 32), line(-16, 9, 4, 9, 4, -9, -16, -9), line(-16, 0, 4, 0), arrow(4, 19),
        *(Circle(4, y, 2, fillColor=INK, strokeColor=None) for y in (9, 0, -9)),
    )  # fmt: skip


def _mixer():
    dots = [Circle(-13, y, 2.6, fillColor=fill, strokeColor=INK) for y, fill in ((9, SHEET), (0, INK), (-9, ACCENT))]
    wave = line(-8, 0, -5, 6, -1, -6, 3, 6, 6, 0)
    return Group(block(-23, -16, 46, 32), *dots, wave, arrow(6, 19))


def _ratio():
    return Group(
        block(-23, -16, 46, 32), ring(-9, 0, 8), ring(11, 0, 5),
        rule(-9, 8, 11, 5, width=W), rule(-9, -8, 11, -5, width=W),
        Circle(-9, 0, 2, fillColor=INK, strokeColor=None), Circle(11, 0, 1.6, fillColor=INK, strokeColor=None),
    )  # fmt: skip


def _rail():
    pins = [block(x - 2, 3, 4, 7, INK) for x in (-12, 0, 12)]
    return Group(block(-23, -5, 46, 8, ACCENT_WASH), *pins)


def _vaporizer():
    waves = [line(x, -9, x + 2, -5, x - 2, -1, x, 3, width=1.1) for x in (-6, 0, 6)]
    return Group(
        *leads(13), block(-13, -14, 26, 22), block(-7, 8, 14, 7, ACCENT_WASH), *waves, rule(-13, -10, 13, -10, width=1)
    )


def _bubbler():
    bubbles = [ring(x, y, r) for x, y, r in ((-4, -7, 2.6), (4, -9, 2), (1, -2, 3), (-5, 2, 1.8))]
    return Group(
        *leads(13),
        block(-13, -15, 26, 28),
        rule(-13, 6, 13, 6, width=1),
        line(-20, 0, -16, 11, -8, 11, -8, -10),
        *bubbles,
    )


def _exclusion_bar():
    return Group(
        block(-20, -3, 40, 6, ACCENT_WASH),
        block(-16, -12, 7, 24),
        block(9, -12, 7, 24),
        shape(-4, 0, 0, 6, 4, 0, 0, -6, fill=INK),
    )


def _flush():
    return _valve(arrow(-10, 10, -5), rule(0, 3, 0, 11, width=2), block(-6, 10, 12, 5, ACCENT_WASH))


def _outlet():
    return Group(*leads(12), shape(-12, -13, 6, -9, 6, 9, -12, 13), block(6, -6, 6, 12, ACCENT_WASH))


def _outlet_lock():
    return Group(
        block(-12, -12, 24, 16, ACCENT_WASH),
        line(-7, 4, -7, 11, -3, 15, 3, 15, 7, 11, 7, 4),
        rule(0, -1, 0, -7, width=2.2),
    )


def _absorber():
    grains = [Circle(x, y, 1.5, fillColor=SOFT, strokeColor=None) for x in (-7, 0, 7) for y in (-9, -3, 3, 9)]
    return Group(*leads(12), block(-12, -15, 24, 30, radius=4), *grains)


def _hose():
    ribs = [rule(x, -7, x, 7, width=1.1) for x in range(-15, 18, 5)]
    return Group(*leads(18), block(-18, -7, 36, 14, radius=5), *ribs)


def _bag():
    return Group(
        *leads(16, right=False), shape(-16, 3, -9, 6, 0, 13, 11, 13, 17, 6, 17, -6, 11, -13, 0, -13, -9, -6, -16, -3)
    )


def _selector():
    dots = [Circle(x, y, 2.6, fillColor=INK, strokeColor=None) for x, y in ((-14, 8), (-14, -8), (14, 0))]
    return Group(block(-23, -16, 46, 32), *dots, line(14, 0, -12, 7, width=2.2), line(14, 0, -12, -7, width=1))


def _ventilator():
    folds = line(-10, -12, 8, -9, -10, -5, 8, -2, -10, 2, 8, 5, -10, 8)
    return Group(block(-23, -16, 46, 32), folds, rule(-12, 11, 10, 11, width=2.4), line(-12, -13, 10, -13))


def _patient():
    return Group(
        *leads(9, right=False), shape(-9, -16, -9, -2, -4, 3, 8, 3, 13, -2, 13, -16, fill=ACCENT_WASH), ring(2, 9, 7)
    )


def _scavenging():
    cup = line(-13, 12, -13, -13, 13, -13, 13, 12)
    return Group(
        *leads(13),
        cup,
        line(-4, 14, -4, 2, -7, 5),
        line(4, 2, 4, 14, 7, 11),
        rule(-13, -6, 13, -6, width=1, dash=[2, 2]),
    )


def _screen(*trace):
    return Group(*leads(17, right=False), block(-17, -13, 34, 26, radius=3), line(*trace, colour=ACCENT, width=1.8))


def _oxygen_analyser():
    return Group(_screen(-12, -7, 12, -7), ring(-5, 3, 5), ring(5, 3, 5))


def _pressure_monitor():
    return _screen(-13, -7, -9, -7, -6, 7, -1, 7, 1, -7, 6, -7, 9, 7, 13, 7)


def _gas_monitor():
    return _screen(-13, -7, -9, -7, -7, 4, -1, 7, 0, -7, 4, -7, 6, 4, 12, 7)


def _battery():
    return Group(
        block(-15, -9, 28, 18), block(13, -4, 4, 8, INK), rule(-10, -5, -10, 5, width=3), rule(-4, -5, -4, 5, width=3)
    )


def _mains():
    return Group(
        block(-10, -8, 20, 16, radius=4),
        rule(-4, 8, -4, 15, width=2),
        rule(4, 8, 4, 15, width=2),
        line(0, -8, 0, -12, 9, -15),
    )


def _plain():
    return Group(*leads(13), block(-13, -13, 26, 26), Circle(0, 0, 3, fillColor=INK, strokeColor=None))


SYMBOLS: Mapping[str, Callable[[], Group]] = {
    "pipeline-inlet": _pipeline_inlet,
    "cylinder-yoke": _cylinder,
    "yoke-block": _plug,
    "filter": _filter,
    "check-valve": _check_valve,
    "gauge": _gauge,
    "pressure-regulator": _regulator,
    "regulator-cutoff": _regulator_cutoff,
    "supply-failure-valve": _supply_failure_valve,
    "oxygen-alarm": _alarm,
    "pipe-relief-valve": _relief,
    "main-switch": _switch,
    "flow-control": _flow_control,
    "flowmeter": _flowmeter,
    "auxiliary-flowmeter": _flowmeter,
    "flow-bank": _flow_bank,
    "ratio-protection": _ratio,
    "ratio-link": _ratio,
    "electronic-mixer": _mixer,
    "vaporizer-rail": _rail,
    "vaporizer": _vaporizer,
    "measured-flow-vaporizer": _bubbler,
    "exclusion-bar": _exclusion_bar,
    "flush-valve": _flush,
    "relief-valve": _relief,
    "outlet": _outlet,
    "outlet-lock": _outlet_lock,
    "absorber": _absorber,
    "one-way-valve": _one_way_valve,
    "apl-valve": _apl,
    "breathing-hose": _hose,
    "reservoir-bag": _bag,
    "bag-vent-selector": _selector,
    "ventilator": _ventilator,
    "patient-connection": _patient,
    "scavenging-interface": _scavenging,
    "oxygen-analyser": _oxygen_analyser,
    "airway-pressure-monitor": _pressure_monitor,
    "gas-monitor": _gas_monitor,
    "battery": _battery,
    "mains-supply": _mains,
}


def symbol(kind: str, x: float, y: float, is_mirrored: bool = False) -> Group:
    """Return the symbol of a kind with its middle at (x, y); a kind without one gets a plain box."""
    group = SYMBOLS.get(kind, _plain)()
    turn = -1 if is_mirrored and kind not in WIDE else 1
    return Group(*group.contents, transform=(turn, 0, 0, 1, x, y))
