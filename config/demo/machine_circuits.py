"""The gas circuit of each simulated machine: that of its model, with plates, and its alterations."""

import random
from datetime import UTC, datetime, time
from pathlib import Path

from dateutil.relativedelta import relativedelta

from fleet.actions import (
    copy_circuits,
    insert_component,
    join_ports,
    disconnect_ports,
    replace_component,
    take_out_component,
)
from fleet.circuit.structure import Port
from fleet.models import Component, FeatureState, Connection, State

CIRCUITS = Path(__file__).parent / "circuits"
LOTS = ("L-1907", "L-2011", "L-2203", "L-2310")
WITHOUT_PLATE = ("breathing-hose", "reservoir-bag", "patient-connection", "mains-supply", "flow-bank", "vaporizer-rail")
FOUND = "found on the machine when it came into the register"
# Two machines whose component was removed and not recorded: the register still shows it as fitted.
TAKEN_OUT = {"OH-021": ("outlet-check-valve", 9), "PB-005": ("exclusion-bar", 7)}  # kind, years after the first day


def circuit_text(model_code):
    """Return the circuit file of a machine model."""
    return (CIRCUITS / f"{model_code}.toml").read_text(encoding="utf-8")


def fit_components(machine):
    """Give a machine the components of its model with its own plates, then those that only the register knows."""
    at = morning(machine.in_use_from)
    copy_circuits([machine], by=None, at=at, plate=_plate)
    _add_what_the_register_found(machine, at)
    if machine.asset_number in TAKEN_OUT:
        _take_out(machine, *TAKEN_OUT[machine.asset_number])


def fit_exclusion_bar(machine, *, on, by, at):
    """Fit a bar that lets one vaporizer of the rail be on at a time."""
    codes = Component.objects.filter(machine=machine, kind="vaporizer", removed_on=None).values_list("code", flat=True)
    insert_component(
        machine,
        kind="exclusion-bar",
        label="Exclusion bar",
        options={"vaporizers": " ".join(sorted(codes))},
        lot="R-24",
        fitted_on=on,
        evidence="fitted in the workshop, tried with both vaporizers",
        by=by,
        at=at,
    )


def fit_wide_scavenging(machine, *, on, by, at, lot="R-24", evidence="fitted in the workshop, go and no-go gauge"):
    """Put a scavenging interface with 30 mm connectors in place of the narrow one."""
    common = {"on": on, "by": by, "at": at, "evidence": evidence}
    connections = Connection.objects.filter(machine=machine, target__code="scavenging", removed_on=None).select_related("source")
    hoses = [Port(connection.source.code, connection.source_port) for connection in connections]
    into = Port("scavenging", "in")
    for hose in hoses:
        disconnect_ports(machine, hose, into, **common)
    replace_component(machine, "scavenging", label="Scavenging interface, 30 mm", lot=lot, **common)
    for hose in hoses:
        join_ports(machine, hose, into, size="30 mm", **common)


def fit_oxygen_analyser(machine, *, on, by, at, evidence):
    """Fit an oxygen analyser behind the inspiratory valve."""
    insert_component(
        machine,
        kind="oxygen-analyser",
        label="Oxygen analyser",
        rated={"alarm_low": [21, "%"]},
        joins={"in": Port("inspiratory-valve", "out")},
        fitted_on=on,
        evidence=evidence,
        by=by,
        at=at,
    )


def morning(day):
    return datetime.combine(day, time(8), tzinfo=UTC)


def _add_what_the_register_found(machine, at):
    """Fit the components of safety features that this machine has and others of its model lack."""
    day = machine.in_use_from
    common = {"by": None, "at": at}
    fitted = FeatureState.objects.on(day).filter(machine=machine, state=State.FITTED)
    fitted = set(fitted.order_by().values_list("feature", flat=True))
    kinds = set(Component.objects.filter(machine=machine).values_list("kind", flat=True))
    if "o2-analyser" in fitted and "oxygen-analyser" not in kinds:
        fit_oxygen_analyser(machine, on=day, evidence=FOUND, **common)
    if "outlet-retention" in fitted and "outlet-lock" not in kinds:
        lock = {"kind": "outlet-lock", "label": "Outlet retention"}
        insert_component(machine, fitted_on=day, evidence=FOUND, **lock, **common)
    if "scavenging-30mm" in fitted and Connection.objects.filter(
        machine=machine, target__code="scavenging", removed_on=None
    ).exclude(size="30 mm"):
        fit_wide_scavenging(machine, on=day, lot="", evidence=FOUND, **common)


def _take_out(machine, code, years):
    day = machine.in_use_from + relativedelta(years=years)
    take_out_component(
        machine,
        code,
        removed_on=day,
        bridge=code == "outlet-check-valve",
        evidence="service sheet of an outside firm, found later",
        by=None,
        at=morning(day),
    )


def _plate(machine, component):
    if component.kind in WITHOUT_PLATE:
        return {}
    rng = random.Random(f"plate {machine.asset_number} {component.code}")
    return {"serial": f"{rng.randrange(10**6):06}", "lot": rng.choice(LOTS)}
