"""The catalogue: protections and hazards, each with its source.

The entries are data (TOML beside this file). Read once at import, checked, and then frozen.
"""

from fleet.catalogue.altitude import ambient_pressure_pa_abs
from fleet.catalogue.features import (
    FEATURES,
    HAZARDS,
    Equipment,
    Feature,
    FeatureClass,
    Hazard,
    Need,
    absent_needs,
    get_feature,
    get_hazard,
)
from fleet.catalogue.loading import Basis, CatalogueError, Source, UnknownCode, UnknownFeature, UnknownHazard

__all__ = [
    "FEATURES",
    "HAZARDS",
    "Basis",
    "CatalogueError",
    "Equipment",
    "Feature",
    "FeatureClass",
    "Hazard",
    "Need",
    "Source",
    "UnknownCode",
    "UnknownFeature",
    "UnknownHazard",
    "absent_needs",
    "ambient_pressure_pa_abs",
    "get_feature",
    "get_hazard",
]
