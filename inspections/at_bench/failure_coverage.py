"""Which single failures of a gas circuit a procedure finds and by which steps, as its steps say what they find."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES, Equipment
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.features_present import Protections
from fleet.circuit.usual_states import gases_of, ordinary_state
from fleet.circuits.machine_circuit import circuit_of_model
from fleet.models import FeatureState, MachineModel, State
from inspections.at_bench.found_failures import read_failure
from inspections.at_bench.step_rows import MachineOnDay, places_of

MOST_MODELS = 40
AS_BUILT = date(1900, 1, 1)  # the features of a circuit have no day; no page shows it


@dataclass(frozen=True, slots=True)
class FittedComponent:
    """A component of a circuit with the names that a component of the register has."""

    code: str
    kind: str
    label: str
    gas: str
    rated: Mapping[str, float]
    options: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Failure:
    """A single failure of one component; `steps` are the titles of the steps that find it."""

    component: str
    label: str
    mode: str
    steps: tuple[str, ...] = ()

    def __str__(self):
        return f"{self.label}: {self.mode}"


@dataclass(frozen=True, slots=True)
class FailureCoverage:
    """The single failures of a circuit that a procedure finds, and those that it does not."""

    title: str
    found: tuple[Failure, ...]
    missed: tuple[Failure, ...]
    titles: tuple[str, ...]  # of all steps, in order

    @property
    def total(self):
        return len(self.found) + len(self.missed)

    @property
    def share(self):
        """The share that is found, 0 to 1; 0 for a circuit without a component that can fail."""
        return len(self.found) / self.total if self.total else 0.0

    @property
    def percent(self):
        return round(100 * self.share)

    @property
    def by_step(self):
        """Map the title of each step that finds some to the failures that it finds, in the order of the procedure."""
        found = {title: [failure for failure in self.found if title in failure.steps] for title in self.titles}
        return {title: failures for title, failures in found.items() if failures}


def failure_coverage(content, circuit, machine=None):
    """Return the FailureCoverage of a procedure's content on a circuit.

    machine  what the register says of the machine (machine_on_day); without it the circuit alone decides which steps
             apply: what it does not show counts as not fitted
    """
    components = [_fitted(component) for component in circuit.components]
    machine = replace(machine or machine_as_drawn(circuit), components=components)
    found = {}
    for step in content["step"]:
        for key in _found_by(step, machine):
            found.setdefault(key, []).append(step["title"])
    failures = [
        Failure(component.code, component.label, mode, tuple(found.get((component.code, mode), ())))
        for component in circuit.components
        for mode in element_for(component, Condition()).failures
    ]
    hit, missed = (tuple(one for one in failures if bool(one.steps) is is_found) for is_found in (True, False))
    return FailureCoverage(circuit.title, hit, missed, tuple(step["title"] for step in content["step"]))


def coverage_of_models(content):
    """Return the FailureCoverage of a procedure for each machine model of the register whose circuit can be read.

    At most MOST_MODELS, by name. Two queries.
    """
    models = MachineModel.objects.exclude(circuit="").prefetch_related("features").order_by("manufacturer", "name")
    drawn = ((model, circuit_of_model(model)) for model in models[:MOST_MODELS])
    return [
        replace(failure_coverage(content, found.circuit), title=str(model))
        for model, found in drawn
        if found.can_be_solved
    ]


def says_what_it_finds(content):
    """Return whether a content says of its steps what they find; versions of earlier years do not."""
    return any(step.get("finds") for step in content["step"])


def machine_as_drawn(circuit):
    """Return what decides which steps apply on a machine of which only the circuit is known."""
    gases = gases_of(circuit)
    kinds = {component.kind for component in circuit.components}
    equipment = Equipment(
        gases=frozenset(gases),
        vaporizer_positions=sum(component.kind == "vaporizer" for component in circuit.components),
        has_pipeline="pipeline-inlet" in kinds,
        has_yokes="cylinder-yoke" in kinds,
        has_ventilator="ventilator" in kinds,
        has_scavenging="scavenging-interface" in kinds,
        has_mains_power="mains-supply" in kinds,
    )
    there = features_as_drawn(circuit)
    states = {code: State.FITTED if code in there else State.NOT_FITTED for code in FEATURES}
    features = {code: FeatureState(feature=code, state=state, from_date=AS_BUILT) for code, state in states.items()}
    return MachineOnDay(gases=tuple(gases), equipment=equipment, features=features, components=[])


def features_as_drawn(circuit):
    """Return the codes of the safety features that a circuit shows, also those that no gas flow rests on."""
    silent = (one for one in circuit.components if not element_for(one, Condition()).protects)
    shown = {code for component in silent for code in COMPONENT_KINDS[component.kind].evidences}
    return Protections(circuit, ordinary_state(circuit)).present | shown


def _fitted(component):
    return FittedComponent(
        component.code, component.kind, component.label, component.gas, component.values, component.options
    )


def _found_by(step, machine):
    """Yield (component code, mode) of the failures that a step finds on a machine, each once."""
    places = [place for place in places_of(step, machine) if not place.absence]
    for text in step.get("finds", ()):
        failure = read_failure(text)
        for component in machine.components:
            if failure.is_of(component) and any(_reaches(place, component) for place in places):
                yield component.code, failure.mode


def _reaches(place, component):
    """Whether a step that is done there is about this component: the same one, or one of the same gas or of none."""
    if place.component is not None and place.component.kind == component.kind:
        return place.component.code == component.code
    gas = place.component.gas if place.component is not None else place.subject
    return gas not in GASES or component.gas in ("", gas)
