"""Flow laws: the flow through a branch between two pressures, with its exact slopes.

Every law is continuous and has finite slopes; its flow never falls as the pressure at a rises, and never rises as the
pressure at b rises. Pressures are Pa absolute and above zero, flows m3/s at 20 C and 101.325 kPa, all gas is at 20 C.
"""

from tests.fleet.circuit.oracle.laws.nozzle import Nozzle, nozzle_area
from tests.fleet.circuit.oracle.laws.plain import FLOOR, FLOOR_M3_S_PA, TIGHT_M3_S_PA, Closed, Resistance, resistance
from tests.fleet.circuit.oracle.laws.ramps import Opening, lift, ramp
from tests.fleet.circuit.oracle.laws.sources import Circulating, Drawing
from tests.fleet.circuit.oracle.laws.steered import Following, Metered, Rationed, Regulating, Steered
from tests.fleet.circuit.oracle.laws.valves import OneWay

__all__ = [
    "FLOOR",
    "FLOOR_M3_S_PA",
    "TIGHT_M3_S_PA",
    "Circulating",
    "Closed",
    "Drawing",
    "Following",
    "Metered",
    "Nozzle",
    "OneWay",
    "Opening",
    "Rationed",
    "Regulating",
    "Resistance",
    "Steered",
    "lift",
    "nozzle_area",
    "ramp",
    "resistance",
]
