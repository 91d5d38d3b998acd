"""What the hospital has: places, people, machines with their features and components, and instruments."""

from fleet.models.alterations import AlterationEffect, AlterationOfMachine, AlterationPlan
from fleet.models.area_periods import AreaPeriod
from fleet.models.away_periods import AwayKind, AwayPeriod
from fleet.models.changes import ChangeEntry
from fleet.models.circuit_covers import CircuitCover, CircuitReading, CoverHazard, MachineCover
from fleet.models.components import CircuitChange, Component, Connection
from fleet.models.current_states import CurrentState, CurrentStateRules
from fleet.models.device_book_records import SoftwareVersion, UserInstruction
from fleet.models.digests import Digest
from fleet.models.earlier import EarlierInspection
from fleet.models.features import Evidence, FeatureState, ModelFeature, State
from fleet.models.first_day import StartPutAway
from fleet.models.heartbeats import Heartbeat
from fleet.models.instruments import Calibration, Instrument, InstrumentScale
from fleet.models.jobs import Job
from fleet.models.journal import JournalEntry, JournalHead, JournalLink
from fleet.models.machines import Machine, MachineModel, MachineStatus, StatusChange
from fleet.models.meanings import ValueMeaning, WaitingRow
from fleet.models.money import (
    AlterationPrice,
    CostRate,
    MachinePurchase,
    ReplacementPrice,
    ServiceContract,
    SiteCurrency,
    SparePartCost,
)
from fleet.models.passkeys import Passkey, PasskeyChallenge
from fleet.models.people import Person
from fleet.models.places import Area, Site
from fleet.models.tokens import ApiToken
from fleet.models.uploads import ColumnMapping, RegisterUpload

__all__ = [
    "AlterationEffect",
    "AlterationOfMachine",
    "AlterationPlan",
    "AlterationPrice",
    "ApiToken",
    "Area",
    "AreaPeriod",
    "AwayKind",
    "AwayPeriod",
    "Calibration",
    "ChangeEntry",
    "CircuitChange",
    "CircuitCover",
    "CircuitReading",
    "ColumnMapping",
    "Component",
    "CostRate",
    "CoverHazard",
    "CurrentState",
    "CurrentStateRules",
    "Digest",
    "MachineStatus",
    "SoftwareVersion",
    "StatusChange",
    "EarlierInspection",
    "Evidence",
    "FeatureState",
    "Heartbeat",
    "Instrument",
    "InstrumentScale",
    "Job",
    "JournalEntry",
    "JournalHead",
    "JournalLink",
    "Connection",
    "Machine",
    "MachineCover",
    "MachineModel",
    "MachinePurchase",
    "ModelFeature",
    "Passkey",
    "PasskeyChallenge",
    "Person",
    "RegisterUpload",
    "ReplacementPrice",
    "ServiceContract",
    "Site",
    "SiteCurrency",
    "SparePartCost",
    "StartPutAway",
    "State",
    "UserInstruction",
    "ValueMeaning",
    "WaitingRow",
]
