"""Importing files: for each kind of file the plan of changes, the import itself, and the export in the same format.

A kind declares its columns in fleet/register_file/kinds.py and an Importer here; the rest is shared.
"""

from fleet.imports.importers import IMPORTERS, Importer, importer_of
from fleet.imports.plan import Addition, Change, Correction, ImportPlan, Scope
from fleet.imports.reading import parse_upload, plan_import

__all__ = [
    "IMPORTERS",
    "Addition",
    "Change",
    "Correction",
    "ImportPlan",
    "Importer",
    "Scope",
    "importer_of",
    "parse_upload",
    "plan_import",
]
