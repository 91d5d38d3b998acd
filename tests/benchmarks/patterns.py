"""Inspections made by the real actions, one machine of each model and condition; the rest of the fleet copies them."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from config.demo.machine_circuits import fit_components
from config.demo.simulator import Simulator
from config.demo.truth import truth_of
from fleet.actions import register_machine
from fleet.models import Component, FeatureState, Instrument, Connection, Machine, MachineModel
from inspections.actions import open_inspection, plan_inspection, set_not_tested, sign_inspection
from inspections.at_bench.slots import find_slot
from inspections.models import Inspection, Result, Reading

# The fault of the machine on which a pattern was measured. The first has none.
CONDITIONS = (None, "perished seal", "creeping seat")


@dataclass(frozen=True, slots=True)
class Pattern:
    """A signed inspection to copy."""

    inspection: Inspection
    results: int
    readings: int


@dataclass(frozen=True, slots=True)
class MachinePattern:
    """A machine to copy, with its parts and its signed inspections by procedure code."""

    machine: Machine
    components: list[Component]
    connections: list[Connection]
    features: list[FeatureState]
    inspections: dict[str, Pattern]


def make_patterns(procedures, area, people, today):
    """Return, for each model's code, a MachinePattern for each of CONDITIONS."""
    usable = Instrument.objects.usable().in_calibration_on(today).prefetch_related("scales")
    simulator = Simulator(list(usable), "patterns")
    day = today - timedelta(days=10)
    return {
        model.code: [
            _machine_pattern(model, number, condition, procedures, area, people, simulator, day)
            for number, condition in enumerate(CONDITIONS)
        ]
        for model in MachineModel.objects.all()
    }


def _machine_pattern(model, number, condition, procedures, area, people, simulator, day):
    at = datetime.combine(day, time(9), tzinfo=UTC)
    machine = register_machine(
        by=people["planner"],
        at=at,
        asset_number=f"P-{model.code}-{number}",
        serial=f"P{model.pk:03}{number}",
        model=model,
        area=area,
        built_year=model.first_built,
        in_use_from=day - timedelta(days=3 * 365),
    )
    fit_components(machine)
    truth = truth_of(machine, machine.in_use_from)
    if condition:
        truth.faults[condition] = day
    made = {
        procedure.code: _signed(machine, procedure, truth, people["technician"], simulator, at)
        for procedure in procedures
    }
    of_machine = [list(getattr(machine, name).order_by("pk")) for name in ("components", "connections", "feature_states")]
    return MachinePattern(machine, *of_machine, made)


def _signed(machine, procedure, truth, technician, simulator, at):
    day = at.date()
    inspection = plan_inspection(machine, procedure, due_on=day, by=technician, at=at)
    open_inspection(inspection, by=technician, at=at, temperature_c=21.0)
    rows = [
        row
        for step in _tested_steps(inspection, truth, technician, at)
        for row in readings_of(step, truth, day, simulator, at)
    ]
    Reading.objects.bulk_create(rows)
    sign_inspection(inspection, by=technician, at=at + timedelta(hours=2))
    return Pattern(inspection, Result.objects.filter(step__inspection=inspection).count(), len(rows))


def _tested_steps(inspection, truth, technician, at):
    for step in inspection.steps.that_apply().select_related("component"):
        if step.test_code == "oxygen-mixture" and not truth.has_ratio:
            reason = "Nothing that links the flows was found on this machine."
            set_not_tested(step, reason=reason, by=technician, at=at)
        else:
            yield step


def readings_of(step, truth, day, simulator, at):
    """Yield the readings of a step as unsaved rows, as enter_reading would store them."""
    for entry in simulator.entries(step, truth, day):
        read = simulator.read(step, entry)
        slot = find_slot(step, read["field"], read["row"], read["column"])
        yield Reading(
            step=step,
            zero=slot.zero_for(read["unit"], ""),
            entered_by=step.inspection.opened_by,
            entered_at=at,
            **read,
        )
