"""The cover report: which safety features the fleet has and lacks, and which hazards that leaves open."""

from fleet.cover_report.criteria import STATUS_CHOICES, CoverFilter
from fleet.cover_report.queries import select_machines
from fleet.cover_report.report import (
    CoverReport,
    FeatureTotal,
    HazardTotal,
    MachineRow,
    PlaceTotal,
    build_report,
    machine_rows,
)
from fleet.cover_report.shortlists import Shortlist, shortlists

__all__ = [
    "STATUS_CHOICES",
    "CoverFilter",
    "CoverReport",
    "FeatureTotal",
    "HazardTotal",
    "MachineRow",
    "PlaceTotal",
    "Shortlist",
    "build_report",
    "machine_rows",
    "select_machines",
    "shortlists",
]
