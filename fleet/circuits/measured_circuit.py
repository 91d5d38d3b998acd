"""The gas circuit of a machine today, with what was last measured on it in place of what plates say."""

from fleet.circuits.machine_circuit import circuit_of, circuits_of
from fleet.extensions import measured_values_of


def circuit_as_measured(machine, day, *, today):
    """Return the circuit on the date `day`; measured values count in that of `today` alone, since they are of today."""
    measured = measured_values_of([machine]).get(machine.pk, {}) if day == today else {}
    return circuit_of(machine, day, measured)


def circuits_as_measured(machines, today):
    """Return the circuits of many machines by key, as they are today, in as many queries as of one."""
    return circuits_of(machines, today, measured_values_of(machines))
