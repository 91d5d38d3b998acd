"""The catalogue: safety features, hazards, gases and component kinds, each with its source.

The entries are data (TOML beside this file). They are read and checked once at import, and then frozen.
"""

from fleet.catalogue.agents import AGENTS, Agent, get_agent
from fleet.catalogue.atmosphere import ambient_pressure_pa_abs
from fleet.catalogue.components import COMPONENT_KINDS, ComponentKind, RatedValue, get_component_kind
from fleet.catalogue.features import (
    FEATURES,
    HAZARDS,
    Action,
    Equipment,
    Feature,
    FeatureClass,
    Hazard,
    Need,
    absent_needs,
    get_feature,
    get_hazard,
)
from fleet.catalogue.gases import GASES, Gas, get_gas
from fleet.catalogue.loading import (
    Basis,
    CatalogueError,
    Source,
    UnknownAgent,
    UnknownCode,
    UnknownComponentKind,
    UnknownFeature,
    UnknownGas,
    UnknownHazard,
)

__all__ = [
    "AGENTS",
    "COMPONENT_KINDS",
    "FEATURES",
    "GASES",
    "HAZARDS",
    "Agent",
    "Basis",
    "CatalogueError",
    "ComponentKind",
    "Equipment",
    "Feature",
    "Action",
    "FeatureClass",
    "Gas",
    "Hazard",
    "Need",
    "RatedValue",
    "Source",
    "UnknownAgent",
    "UnknownCode",
    "UnknownComponentKind",
    "UnknownFeature",
    "UnknownGas",
    "UnknownHazard",
    "absent_needs",
    "ambient_pressure_pa_abs",
    "get_agent",
    "get_component_kind",
    "get_feature",
    "get_gas",
    "get_hazard",
]
