"""What a process loads that computes covers for another one; imported there alone, before it forks (nursery.py).

Plain Python: data in and out. numpy and the catalogues are there in every child.
"""

from collections.abc import Mapping
from typing import Any

from fleet.circuit.serialise import closing_to_dict, table_to_dict
from fleet.circuit.solution import NoSolution
from fleet.circuits.covers.circuit_as_json import circuit_from_dict
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.derived_as_json import shown_to_dict
from fleet.late import np

np.zeros(0)  # loads it


def compute_as_data(circuit: Mapping[str, Any], title: str, ask) -> dict[str, Any] | str:
    """Return what is computed of a circuit, or the reason why it has no solution."""
    try:
        computed = compute(circuit_from_dict(circuit, code="elsewhere", title=title))
    except NoSolution as error:
        return str(error)
    return {
        "table": table_to_dict(computed.table),
        "shown": shown_to_dict(computed.shown),
        "closing": closing_to_dict(computed.closing),
        "seconds": computed.seconds,
    }
