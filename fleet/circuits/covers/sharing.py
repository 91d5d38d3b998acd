"""The circuit for which a cover is computed: with measured values where they differ from the rated ones.

Machines of one model differ a little in every measured value, and their tables would be the same. So a pressure near
the rated one counts as the rated one; other pressures, leaks and the ambient pressure are rounded to steps. Pages that
draw the circuit of one machine use its measured values unchanged.
"""

from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.causes import causes_of
from fleet.circuit.derived_features import BY_COMPONENT
from fleet.circuit.digest import circuit_digest
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.features_present import SCAVENGING_30
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.structure import Circuit
from fleet.circuit.units import to_si
from fleet.circuits.as_measured import FAILURE
from fleet.circuits.machine_circuit import read_and_check

# Half the difference between pipeline and cylinder pressure, 50 and 45 psi, the smallest difference that matters in a
# circuit; for a low pressure at most a third of it. Source: common practice, no source
STEP_PA, STEP_SHARE = to_si(2.5, "psi"), 1 / 3
ROOM_STEP_PA = 5000.0  # about 430 m of altitude, and 2.5 % of the pressures at most; common practice, no source
LEAK_STEP_M3_S = 50e-6 / 60  # 50 mL/min; a leak below half of it counts as none; common practice, no source


def shared_circuit(machine, found):
    """Return the circuit of a MachineCircuit as covers use it, and in words the measured values that differ.

    machine  with its model
    """
    changed, words = {}, []
    for (code, key), told in found.measured.items():
        component = found.circuit.component(code)
        if key == FAILURE:
            words.append(f"{component.label}: {component.failed}, {told}")
            continue
        changed.setdefault(code, {})[key] = rated = rated_value(machine, found, component, key)
        if _shared(component.values[key], rated, _is_flow(component, key))[1]:
            words.append(f"{component.label}: {told}")
    components = tuple(
        _rounded(component, changed[component.code]) if component.code in changed else component
        for component in found.circuit.components
    )
    return with_what_counts(replace(found.circuit, title=str(machine.model), components=components)), sorted(words)


def with_what_counts(circuit):
    """Return a circuit with the pressure of the room rounded, and only those fittings that affect its results."""
    room = ROOM_STEP_PA * round(circuit.ambient_pa_abs / ROOM_STEP_PA)
    bare = replace(circuit, ambient_pa_abs=room, fittings=frozenset())
    return replace(bare, fittings=circuit.fittings & fittings_that_count(_Known(circuit_digest(bare), bare)))


def _rounded(component, rated):
    """Return a component with its measured values rounded for sharing; `rated` has the rated value of each."""

    def rounded(values):
        shared = {key: _shared(values[key], rated[key], _is_flow(component, key))[0] for key in rated if key in values}
        return MappingProxyType({**values, **shared})

    sound = None if component.sound_values is None else rounded(component.sound_values)
    return replace(component, values=rounded(component.values), sound_values=sound)


@dataclass(frozen=True, slots=True)
class _Known:
    """A circuit without fittings, equal to any other with the same digest."""

    digest: str
    circuit: Circuit = field(compare=False)


@lru_cache(maxsize=128)
def fittings_that_count(known):
    """Return the codes of the recorded features that affect the results for a circuit.

    They prevent one of its causes or let a person notice it, or correspond to a component that may be missing from the
    drawing. Other recorded features change nothing here, so they must not prevent machines from sharing a table.
    """
    causes = causes_of(known.circuit)
    preventing = {code for cause in causes for code in (*cause.prevented_by, *cause.noticed_by)}
    return preventing | BY_COMPONENT.keys() | {SCAVENGING_30}


def rated_value(machine, found, component, key):
    """Return a value, SI, from the rating plate, the model's circuit, or else the element; None if none has it."""
    if found.is_own:
        record = found.components[component.code]
        written = {**record.rated, **record.further}.get(key)
        given = to_si(*written) if written else None
    else:
        given = read_and_check(machine.model.circuit, str(machine.model))[0].component(component.code).values.get(key)
    if given is not None:
        return given
    declared = ELEMENTS[component.kind].values.get(key) if component.kind in ELEMENTS else None
    return declared.default if declared else None


def _shared(measured, rated, is_flow):
    """Return a value rounded for sharing, and whether it differs from the rated one."""
    if is_flow:
        steps = round((measured - (rated or 0.0)) / LEAK_STEP_M3_S)
        return (rated or 0.0) + steps * LEAK_STEP_M3_S, steps != 0
    if not rated:
        return measured, True
    step = min(STEP_PA, abs(rated) * STEP_SHARE)
    if abs(measured - rated) < step:
        return rated, False
    return rated + step * round((measured - rated) / step), True


def _is_flow(component, key):
    return dimensions_of(COMPONENT_KINDS[component.kind]).get(key) == "flow"
