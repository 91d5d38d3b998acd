"""The components of a machine that can be named as replaced at a step, those that the step tests first."""

from dataclasses import dataclass

from fleet.catalogue import GASES
from fleet.circuits.machine_circuit import circuit_in_place
from fleet.models import Component
from inspections.at_bench.step_content import is_repeated_after


@dataclass(frozen=True, slots=True)
class Replaceable:
    """A component in place. `record` is None where only the circuit of the machine's model names it."""

    code: str
    kind: str
    label: str
    gas: str
    record: Component | None
    is_tested_here: bool

    @property
    def plate(self):
        """Serial, lot and part number as recorded, by name."""
        names = ("serial", "lot", "part_number")
        return {name: getattr(self.record, name) if self.record else "" for name in names}

    @property
    def words(self):
        named = [f"{name.replace('_', ' ')} {text}" for name, text in self.plate.items() if text]
        return ", ".join([self.label, *named])


def replaceable_components(step, on):
    """Return the components of the machine of a step that are in place on a date; four queries."""
    machine = step.inspection.machine
    records = {component.label: component for component in machine.components.on(on)}
    found = [
        Replaceable(one.code, one.kind, one.label, one.gas, records.get(one.label), _is_tested(step, one, records))
        for one in circuit_in_place(machine, on).components
    ]
    return sorted(found, key=lambda one: (not one.is_tested_here, one.label))


def _is_tested(step, component, records):
    if step.component_id:
        record = records.get(component.label)
        return record is not None and record.pk == step.component_id
    gas = step.subject if step.subject in GASES else step.content.get("gas", "")
    is_of_gas = not gas or component.gas in ("", gas)
    return is_of_gas and is_repeated_after(step.content, component.kind)
