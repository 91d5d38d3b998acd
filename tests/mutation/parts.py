"""What is mutated, in parts that each take minutes, and the tests that must notice."""

from dataclasses import dataclass
from pathlib import Path

BENCH_TESTS = ("tests/inspections/bench",)
SLIP_TESTS = tuple(
    f"tests/inspections/bench/{name}"
    for name in ("slips", "test_slips.py", "test_slips_in_rows.py", "test_impossible.py")
)
DECLARATION_TESTS = tuple(f"tests/inspections/bench/test_{name}.py" for name in ("declarations", "limits"))
ELEMENT_TESTS = (
    "tests/fleet/circuit/elements", "tests/fleet/circuit/test_pressures.py", "tests/fleet/circuit/test_cylinders.py",
)  # fmt: skip
EQUIPMENT_TESTS = tuple(f"tests/inspections/bench/test_{name}.py" for name in ("passages", "equipped"))
LAW_TESTS = tuple(f"tests/fleet/circuit/test_{name}.py" for name in ("laws", "law_corners", "stacking"))
"""The tests nearest to what is mutated. Whole cover tables would take seconds for each mutant that lives."""


@dataclass(frozen=True, slots=True)
class Part:
    """A folder that is mutated, or some of its modules.

    tests    those that must notice
    modules  names without .py, empty for all that no other part of the folder names
    first    tests of what the modules declare, for mutants that are tried afresh
    """

    folder: str
    tests: tuple[str, ...]
    modules: tuple[str, ...] = ()
    first: tuple[str, ...] = ()

    def files(self, root: Path) -> list[str]:
        """Return the paths of the modules, relative to the root of the tree."""
        if self.modules:
            return [f"{self.folder}/{name}.py" for name in self.modules]
        taken = {name for part in PARTS.values() if part.folder == self.folder for name in part.modules}
        found = sorted(path for path in (root / self.folder).glob("*.py") if path.stem not in taken)
        return [f"{self.folder}/{path.name}" for path in found]


def _bench(*modules: str) -> Part:
    return Part("inspections/bench", BENCH_TESTS, modules, DECLARATION_TESTS)


PARTS: dict[str, Part] = {
    "laws": Part("fleet/circuit/laws", LAW_TESTS),
    "elements": Part("fleet/circuit/elements", ELEMENT_TESTS, first=ELEMENT_TESTS),
    "uncertainty": _bench("uncertainty", "propagation", "measuring", "instruments", "assumed_accuracy"),
    "decisions": _bench("decisions", "decision_words", "judging", "limits", "many_decisions", "rules", "strictest"),
    "supply": _bench("supply_failure", "supply_challenges", "oxygen_sweeps", "pipeline", "regulators", "needle"),
    "leaks": _bench("leaks", "leak_challenges", "leak_decays", "decay", "capacity"),
    "flows": _bench("flowmeter", "float_flow", "forward_flow", "basal_flow", "power_law", "apl_valve", "one_way_valves",
                    "scavenging"),
    "mixtures": _bench("mixture", "mixture_challenges", "mixture_flows", "vaporizer", "vapour", "ventilator",
                       "breaths"),
    "electrical": _bench("electrical_safety", "earth_and_insulation", "leakage_currents"),
    "equipment": Part("inspections/bench", EQUIPMENT_TESTS, ("passages", "equipped"), EQUIPMENT_TESTS),
    "slips": Part("inspections/bench/slips", SLIP_TESTS, first=SLIP_TESTS),
    "rest": _bench(),
}  # fmt: skip
