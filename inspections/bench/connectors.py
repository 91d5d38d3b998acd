"""Conical connectors by their gauges, what must not fit, and how firmly a connection holds.

A cone is gauged, not measured: its end lies between the two steps of the gauge, or it does not. The gauge is an
instrument of its own with a calibration, so a row counts with the gauge named.
"""

from dataclasses import replace
from itertools import permutations

from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .errors import BenchError
from .judging import judged_result
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench, Row
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading
from .strictest import gravest
from .uncertainty import Estimate

SIZES_MM = (8.5, 15.0, 19.0, 22.0, 23.0, 30.0)
"""Cones of ISO 5356-1:2004 (scope), and 19 mm of the scavenging of ASTM F1343."""
BREATHING_MM, SCAVENGING_MM = (15.0, 22.0), (19.0, 30.0)
VAPORIZER_MM = 23.0
NEAR_MM = 0.05  # by how much a nominal size may be misread before it is another; common practice, no source
GASES = {"oxygen": "oxygen", "nitrous": "nitrous oxide", "air": "air"}
INLETS = {
    "all": ("oxygen", "nitrous", "air"),
    "nitrous": ("oxygen", "nitrous"),
    "air": ("oxygen", "air"),
    "oxygen": ("oxygen",),
}  # fmt: skip
KINDS = {"male": "Male cones", "female": "Female cones"}


def evaluate_connectors(sheet: Sheet, context: Context) -> Evaluation:
    """Return whether the cones fit their gauges, what fits and must not, and the pull held. Raises BenchError."""
    bench = Bench(CONNECTORS, sheet, context)
    results = [*_cones(bench), *_hose(bench), *_crossings(bench), *_retention(bench)]
    return bench.finish(results)


def _gauged(bench: Bench) -> list[tuple[str, float, Row]]:
    """Return kind, nominal size in mm and row of every cone that was gauged. Raises BenchError for an unknown size."""
    found = []
    for kind in KINDS:
        for number, row in bench.rows(kind):
            shown = from_si(row["size"].value, "mm")
            size = min(SIZES_MM, key=lambda one: abs(one - shown))  # noqa: B023
            if abs(size - shown) > NEAR_MM:
                raise BenchError(
                    f"{kind}[{number}].size", f"{KINDS[kind]}, row {number}: {shown:g} mm is no size of a cone. "
                    f"Accepted: {', '.join(f'{one:g}' for one in SIZES_MM)} mm.",
                )  # fmt: skip
            found.append((kind, size, row))
    return found


def _cones(bench: Bench) -> list[Result]:
    gauged = _gauged(bench)
    if not gauged:
        return []
    worn = [f"{size:g} mm {kind}" for kind, size, row in gauged if not (row["fits"].value and row["sound"].value)]
    if any(size == VAPORIZER_MM for _, size, _ in gauged):
        bench.remarks.append("23 mm is for vaporizers alone: a 23 mm cone in a breathing system is a fault.")
    remark = f"Worn or damaged: {', '.join(worn)}." if worn else ""
    return [bench.result("cones", Estimate(0.0 if worn else 1.0), remark=remark)]


def _hose(bench: Bench) -> list[Result]:
    fits = bench.value("hose_fits")
    return [] if fits is None else [bench.result("hose_fits", fits.estimate)]


def _crossed(bench: Bench) -> dict[str, bool | None]:
    """Return for each fitting and inlet of two gases whether it could be connected; None where it was not tried."""
    gases = INLETS[bench.choice("inlets")]
    read = {_crossing(*pair): bench.value(_crossing(*pair)) for pair in permutations(gases, 2)}
    return {key: None if one is None else bool(one.value) for key, one in read.items()}


def _crossing(fitting: str, inlet: str) -> str:
    return f"{fitting}_on_{inlet}"


def _crossings(bench: Bench) -> list[Result]:
    tried = {key: fits for key, fits in _crossed(bench).items() if fits is not None}
    if not tried:
        return []
    labels = {spec.key: spec.label for spec in bench.test.readings}
    fitting = [labels[key].partition(":")[0] for key, fits in tried.items() if fits]
    remark = f"Could be connected: {'; '.join(fitting).lower()}." if fitting else ""
    return [bench.result("crossings", Estimate(1.0 if fitting else 0.0), remark=remark)]


def _retention(bench: Bench) -> list[Result]:
    rows = bench.rows("pulls")
    bench.value("pushed_home")
    if not rows:
        return []
    spec, found = bench.test.result_spec("retention"), [(row["force"].estimate, _judge(bench, row)) for _, row in rows]
    number = gravest(spec, found)
    at, row = rows[number]
    how = "it came off" if row["came_off"].value else "it held, and more was not tried"
    remark = f"Row {at}: {how}; the gravest of {len(rows)}."
    unmet, unit = spec.challenge.unmet(bench.aside()), bench.unit("pulls", "force")
    return [judged_result(spec, *found[number], unmet=unmet, remark=remark, unit=unit)]


def _judge(bench: Bench, row: Row) -> Limit:
    """Return the limit of a pull; what came off at the force demanded did not hold it."""
    return replace(bench.limit("retention"), strict=bool(row["came_off"].value))


def _gauges_named(bench: Bench) -> Unmet | None:
    if all(row["size"].instrument for _, _, row in _gauged(bench)):
        return None
    return Unmet("A gauge is not named: name the gauge of every row, with its calibration.", Reason.NOT_KNOWN)


def _sizes_tried(bench: Bench) -> Unmet | None:
    sizes = {size for _, size, _ in _gauged(bench)}
    has_none = "scavenging" in bench.context.lacks
    if set(BREATHING_MM) <= sizes and (has_none or sizes & set(SCAVENGING_MM)):
        return None
    others = "" if has_none else ", and 30 or 19 mm ones of the scavenging"
    return Unmet(f"Gauge 15 and 22 mm cones of the breathing system{others}.")


def _all_crossed(bench: Bench) -> Unmet | None:
    labels = {spec.key: spec.label for spec in bench.test.readings}
    left = [labels[key].partition(":")[0].lower() for key, fits in _crossed(bench).items() if fits is None]
    return Unmet(f"Not tried: {'; '.join(left)}.") if left else None


def _pushed_home(bench: Bench) -> Unmet | None:
    pushed = bench.value("pushed_home")
    if pushed is not None and pushed.value == 1:
        return None
    why = "Push each cone home with a quarter turn, or close its lock, before it is pulled."
    return Unmet(why, Reason.NOT_KNOWN if pushed is None else Reason.NOT_CHALLENGED, fail_stands=False)


def _pulled_enough(bench: Bench) -> Unmet | None:
    """A connection that held and was pulled with less than is demanded has not failed: it was not tried."""
    least = bench.limit("retention").lower_si
    short = [row for _, row in bench.rows("pulls") if not row["came_off"].value and row["force"].value < least]
    if not short:
        return None
    force = from_si(min(row["force"].value for row in short), "N")
    why = f"One held {force:.3g} N and was not pulled harder: pull with {from_si(least, 'N'):.3g} N."
    return Unmet(why, fail_stands=any(row["came_off"].value for _, row in bench.rows("pulls")))


def _cone_table(kind: str, label: str) -> TableSpec:
    other = "plug" if kind == "female" else "ring"
    return TableSpec(
        kind, label,
        (reading("size", "Size of the gauge", Dimension.LENGTH, first="mm", judges=("cones",)),
         observation("fits", "Does its end lie between the steps of the gauge?", judges=("cones",)),
         observation("sound", "Is it free of cracks and scores?", judges=("cones",))),
        0, 3, f"a row for every cone, by its {other} gauge pushed on and turned; name the gauge as the instrument",
        is_expected=True,
    )  # fmt: skip


def _crossing_reading(fitting: str, inlet: str) -> ReadingSpec:
    key = _crossing(fitting, inlet)
    wanted = tuple((("inlets", one),) for one, gases in INLETS.items() if {fitting, inlet} <= set(gases))
    label = f"{GASES[fitting].capitalize()} on {GASES[inlet]}: could the fitting be connected?"
    return ReadingSpec(
        key, label, Dimension.OBSERVATION, None, ("yes/no",), "try it by hand, without force", required=False,
        needs_instrument=False, judges=("crossings",), asked=True, wanted=wanted,
    )  # fmt: skip


_CONES = ("ISO 5356-1, scope and gauges", "ISO 5356-1:2004", FROM_MEMORY)

CONNECTORS = Test(
    code="connectors",
    family="connections",
    title="Connectors and retention",
    purpose=(
        "Gauge the conical connectors, try whether anything fits that must not, and pull on what must hold. A cone has "
        "a taper of 1 in 40, so a step of 1 mm on the gauge is 0.025 mm of diameter: wear that no eye sees. Wipe cone "
        "and gauge dry, push the gauge on steadily and turn it by 20 degrees.{second-gas| Try the fittings of each gas "
        "on the inlets of the others (screw-threaded by NIST or DISS: oxygen 1240, nitrous oxide 1040, air 1160).} "
        "Push a hose home or lock it before it is pulled along its axis with a force gauge."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Close and vent the supply before a fitting is taken off. Try a wrong fitting by hand only: force makes it "
        "fit.",
        "Pull slowly, and hold the machine: a hose that lets go at 50 N swings back.",
        "What commonly goes wrong: a gauge that is itself worn or dropped, a cone cracked by alcohol{second-gas|, and "
        "an adapter left on an inlet that makes two gases alike}.",
    ),
    readings=(
        observation("hose_fits", "Can a 22 mm breathing hose be pushed on a scavenging connector?",
                    judges=("hose_fits",), needs=("scavenging",)),
        *(_crossing_reading(*pair) for pair in permutations(GASES, 2)),
        observation("pushed_home", "Was each connection pushed home, or locked, before the pull?", required=False,
                    asked=True, judges=("retention",)),
    ),
    tables=(
        *(_cone_table(kind, label) for kind, label in KINDS.items()),
        TableSpec("pulls", "Pull on connections", (
            reading("force", "Force along the axis", Dimension.FORCE, judges=("retention",)),
            observation("came_off", "Did it come off?", judges=("retention",))),
            0, 2, "a row for the outlet and for each connection that must hold; the force at which it came off, or the "
            "highest that it held", is_expected=True),
    ),
    choices=(
        ChoiceSpec("inlets", "Gases with an inlet", (
            ("all", "oxygen, nitrous oxide and air"), ("nitrous", "oxygen and nitrous oxide"),
            ("air", "oxygen and air"), ("oxygen", "oxygen alone")), "all",
            option_needs={"all": ("nitrous-oxide", "air"), "nitrous": ("nitrous-oxide",), "air": ("air",)}),
    ),
    rated=(),
    results=(
        ResultSpec("cones", "Cones fit their gauges", Dimension.OBSERVATION, "yes/no", "go or no-go, of all gauged",
                   Challenge("cones of every size that the machine has gauged, each by a gauge that is named",
                             first_unmet(_gauges_named, _sizes_tried)), needed=True),
        ResultSpec("hose_fits", "Breathing hose fits the scavenging", Dimension.OBSERVATION, "yes/no", "as tried",
                   Challenge("the scavenging cones gauged as well", _sizes_tried), needed=True, needs=("scavenging",)),
        ResultSpec("crossings", "Fitting of one gas connects to another", Dimension.OBSERVATION, "yes/no",
                   "as tried by hand", Challenge("the fitting of each gas tried on the inlet of every other",
                                                 _all_crossed),
                   needed=lambda bench: bench.choice("inlets") != "oxygen", needs=("second-gas",)),
        ResultSpec("retention", "Pull that the connections hold", Dimension.FORCE, "N",
                   "along the axis; of several the one nearest its limit",
                   Challenge("pushed home or locked, and pulled with the force demanded",
                             first_unmet(_pushed_home, _pulled_enough)), needed=True),
    ),
    default_limits=(
        limit("cones", "must-be-yes", "Every cone fits its gauge", (1, None), "yes/no", *_CONES),
        limit("hose_fits", "must-be-no", "No breathing hose on the scavenging", (None, 0), "yes/no",
              "ISO 5356-1:2004, scope: 15 and 22 mm for breathing, 30 mm for scavenging", "ISO 5356-1:2004", SEEN),
        limit("crossings", "must-be-no", "No fitting on the inlet of another gas", (None, 0), "yes/no",
              "CGA V-5; ISO 18082", "-", FROM_MEMORY),
        limit("retention", "iso5356-50-n", "At least 50 N", (50, None), "N", "ISO 5356-1, annexes, latching 22 mm",
              "ISO 5356-1", FROM_MEMORY, note="A doubtful figure, of latching connectors: confirm it first. The "
                                              "manufacturer's comes first."),
    ),
    source="ISO 5356-1:2004 (scope seen, gauges and forces from memory); CGA V-5",
    evaluate=evaluate_connectors,
)  # fmt: skip
