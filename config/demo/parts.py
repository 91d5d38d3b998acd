"""The parts of each simulated machine and the pipes between them, fitted by the real action."""

import random
from datetime import UTC, datetime, time

from fleet.actions import fit_component
from fleet.catalogue import GASES
from fleet.models import Link

LOTS = ("L-1907", "L-2011", "L-2203", "L-2310")


def fit_parts(machine):
    """Fit one lane of parts for each gas, the common parts after them, and link them in the order of flow."""
    rng = random.Random(f"parts {machine.asset_number}")
    common = _common_parts(machine, rng)
    for gas in machine.model.gases:
        lane = _lane(machine, gas, rng)
        _join(machine, [*lane, common[0]])
    _join(machine, common)


def _lane(machine, gas, rng):
    name = GASES[gas].name
    parts = [
        _fit(machine, rng, "pipeline-inlet", f"{name} pipeline inlet", gas, {"pipeline_pressure": [50, "psi"]}),
        _fit(machine, rng, "check-valve", f"{name} pipeline check valve", gas, {}),
    ]
    if gas != "air":
        yoke = _fit(machine, rng, "cylinder-yoke", f"{name} yoke", gas, {})
        rated = {"inlet_pressure": [2000, "psi"], "output_pressure": [45, "psi"]}
        regulator = _fit(machine, rng, "pressure-regulator", f"{name} regulator", gas, rated)
        _join(machine, [yoke, regulator, parts[-1]])
    if gas != "oxygen":
        rated = {"cut_pressure": [25, "psi"]}
        parts.append(_fit(machine, rng, "supply-failure-valve", f"{name} cut-off valve", gas, rated))
    parts.append(_fit(machine, rng, "flow-control", f"{name} flow control", gas, {}))
    parts.append(_fit(machine, rng, "flowmeter", f"{name} flowmeter", gas, {"full_scale": [10, "L/min"]}))
    return parts


def _common_parts(machine, rng):
    parts = [_fit(machine, rng, "flow-bank", "Flowmeter bank", "", {})]
    for position in range(1, machine.model.vaporizer_positions + 1):
        parts.append(_fit(machine, rng, "vaporizer", f"Vaporizer {position}", "", {"highest_output": [5, "%"]}))
    parts.append(_fit(machine, rng, "outlet", "Common gas outlet", "", {}))
    return parts


def _fit(machine, rng, kind, label, gas, rated):
    return fit_component(
        machine,
        kind=kind,
        label=label,
        gas=gas,
        rated=rated,
        fitted_on=machine.in_use_from,
        serial=f"{rng.randrange(10**6):06}",
        lot=rng.choice(LOTS),
        by=None,
        at=datetime.combine(machine.in_use_from, time(8), UTC),
    )


def _join(machine, parts):
    Link.objects.bulk_create(
        Link(machine=machine, source=a, target=b, fitted_on=machine.in_use_from)
        for a, b in zip(parts, parts[1:], strict=False)
    )
