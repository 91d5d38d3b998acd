"""One element class for each component kind: its branches for gas and their flow laws."""

from collections.abc import Mapping
from types import MappingProxyType

from fleet.circuit.elements.base import Condition, Element
from fleet.circuit.elements.breathing import (
    Absorber,
    AplValve,
    BagVentSelector,
    BreathingHose,
    OneWayValve,
    Outlet,
    OutletLock,
    PatientConnection,
    ReservoirBag,
    Ventilator,
)
from fleet.circuit.elements.cutoff import OxygenAlarm, SupplyFailureValve
from fleet.circuit.elements.flows import AuxiliaryFlowmeter, FlowBank, FlowControl, Flowmeter, FlushValve
from fleet.circuit.elements.monitors import AirwayPressureMonitor, GasMonitor, OxygenAnalyser
from fleet.circuit.elements.power import Battery, MainsSupply
from fleet.circuit.elements.ratio import ElectronicMixer, RatioLink, RatioProtection
from fleet.circuit.elements.regulators import PressureRegulator, RegulatorCutoff
from fleet.circuit.elements.scavenging import ScavengingInterface
from fleet.circuit.elements.supplies import CylinderYoke, Filter, Gauge, PipelineInlet, YokeBlock
from fleet.circuit.elements.valves import CheckValve, MainSwitch, PipeReliefValve, ReliefValve
from fleet.circuit.elements.vaporizers import ExclusionBar, MeasuredFlowVaporizer, Vaporizer, VaporizerRail
from fleet.circuit.structure import Component

ELEMENTS: Mapping[str, type[Element]] = MappingProxyType(
    {
        element.kind: element
        for element in (
            PipelineInlet, CylinderYoke, YokeBlock, Filter, CheckValve, Gauge, PressureRegulator, RegulatorCutoff,
            SupplyFailureValve, OxygenAlarm, PipeReliefValve, MainSwitch, FlowControl, Flowmeter, FlowBank,
            RatioProtection, RatioLink, ElectronicMixer, AuxiliaryFlowmeter, VaporizerRail, Vaporizer,
            MeasuredFlowVaporizer, ExclusionBar, FlushValve, ReliefValve, Outlet, OutletLock, Absorber, OneWayValve,
            AplValve, BreathingHose, ReservoirBag, BagVentSelector, Ventilator, PatientConnection, ScavengingInterface,
            OxygenAnalyser, AirwayPressureMonitor, GasMonitor, Battery, MainsSupply,
        )
    }
)  # fmt: skip


def element_for(component: Component, condition: Condition) -> Element:
    """Return a component in one condition as its element. Raises KeyError for a kind without element."""
    return ELEMENTS[component.kind](component, condition)
