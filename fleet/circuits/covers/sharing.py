"""The circuit that a cover is computed for: what was measured on a machine counts where it differs from the plate.

Two machines of one model differ a little in every measured value, and a table for each of them would say the same. So a
pressure near the rated one counts as the rated one, another is taken in steps, and so are leaks and the pressure of the
room. Pages that draw one machine's circuit take its values as measured.
"""

from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.causes import causes_of
from fleet.circuit.derived_features import BY_PART
from fleet.circuit.digest import circuit_digest
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.features_present import SCAVENGING_30
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.structure import Circuit
from fleet.circuit.units import to_si
from fleet.circuits.machine_circuit import read_and_check

# Half of what separates wall from cylinder, 50 from 45 psi, the least difference that a circuit turns on; of a low
# pressure at most a third. Source: common practice, no source
STEP_PA, STEP_SHARE = to_si(2.5, "psi"), 1 / 3
ROOM_STEP_PA = 5000.0  # about 430 m of altitude, and 2.5 % of the pressures at most; common practice, no source
LEAK_STEP_M3_S = 50e-6 / 60  # 50 mL/min; a leak below half of it counts as none; common practice, no source


def shared_circuit(machine, found):
    """Return the circuit of a MachineCircuit as covers take it, and in words what was measured and differs.

    machine  with its model
    """
    changed, words = {}, []
    for (code, key), told in found.measured.items():
        part = found.circuit.part(code)
        value = _shared(part.values[key], rated_value(machine, found, part, key), _is_flow(part, key))
        changed.setdefault(code, dict(part.values))[key] = value[0]
        if value[1]:
            words.append(f"{part.label}: {told}")
    parts = tuple(
        replace(part, values=MappingProxyType(changed[part.code])) if part.code in changed else part
        for part in found.circuit.parts
    )
    room = ROOM_STEP_PA * round(found.circuit.ambient_pa_abs / ROOM_STEP_PA)
    circuit = replace(found.circuit, title=str(machine.model), parts=parts, ambient_pa_abs=room)
    bare = replace(circuit, fittings=frozenset())
    counting = fittings_that_count(_Known(circuit_digest(bare), bare))
    return replace(circuit, fittings=circuit.fittings & counting), sorted(words)


@dataclass(frozen=True, slots=True)
class _Known:
    """A circuit without fittings, equal to another of the same digest."""

    digest: str
    circuit: Circuit = field(compare=False)


@lru_cache(maxsize=128)
def fittings_that_count(known):
    """Return the codes of the recorded features that change what is computed of a circuit.

    They keep some cause of it away, or stand for a part that may be missing from the drawing. Others are recorded of
    the machine and change nothing here, so they must not keep machines from sharing a table.
    """
    preventing = {code for cause in causes_of(known.circuit) for code in cause.prevented_by}
    return preventing | BY_PART.keys() | {SCAVENGING_30}


def rated_value(machine, found, part, key):
    """Return what the plate, the model's circuit, or else the element says of a value, SI; None where nothing does."""
    if found.is_own:
        component = found.components[part.code]
        written = {**component.rated, **component.further}.get(key)
        given = to_si(*written) if written else None
    else:
        given = read_and_check(machine.model.circuit, str(machine.model))[0].part(part.code).values.get(key)
    if given is not None:
        return given
    declared = ELEMENTS[part.kind].values.get(key) if part.kind in ELEMENTS else None
    return declared.default if declared else None


def _shared(measured, rated, is_flow):
    """Return a value as it is shared, and whether it differs from the rated one."""
    if is_flow:
        steps = round((measured - (rated or 0.0)) / LEAK_STEP_M3_S)
        return (rated or 0.0) + steps * LEAK_STEP_M3_S, steps != 0
    if not rated:
        return measured, True
    step = min(STEP_PA, abs(rated) * STEP_SHARE)
    if abs(measured - rated) < step:
        return rated, False
    return rated + step * round((measured - rated) / step), True


def _is_flow(part, key):
    return dimensions_of(COMPONENT_KINDS[part.kind]).get(key) == "flow"
