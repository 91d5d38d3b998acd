"""The kinds of file that can be imported, each with its functions to plan, to import and to export."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from fleet.imports.certificate_points import apply_points, plan_points, point_rows
from fleet.imports.components import apply_components, component_rows, plan_components
from fleet.imports.earlier import apply_earlier, earlier_rows, plan_earlier
from fleet.imports.instruments import apply_instruments, instrument_rows, plan_instruments
from fleet.imports.machines import apply_machines, plan_machines, stage_machines_of
from fleet.imports.register_rows import register_rows
from fleet.register_file import CERTIFICATE_POINTS, COMPONENTS, EARLIER, INSTRUMENTS, MACHINES, FileKind


@dataclass(frozen=True)
class Importer:
    """One kind of file.

    plan   function of a ParsedFile, a Scope and tell(done, total, words) that returns an ImportPlan
    stage  function of the plan, by, at, source and tell, outside any transaction: prepares so that apply is short; its
           result has `discard()` and is passed to apply as `prepared`
    apply  function of the plan, by, at, source, tell and prepared, within the caller's transaction; raises Refused
    rows   function of a Scope that yields the stored records as rows of such a file
    """

    kind: FileKind
    plan: Callable
    apply: Callable
    rows: Callable[..., Iterable[Mapping[str, object]]]
    stage: Callable = lambda plan, **details: None


def _machine_rows(scope):
    return register_rows(scope.machines, scope.today)


IMPORTERS: Mapping[str, Importer] = {
    importer.kind.code: importer
    for importer in (
        Importer(MACHINES, plan_machines, apply_machines, _machine_rows, stage_machines_of),
        Importer(INSTRUMENTS, plan_instruments, apply_instruments, instrument_rows),
        Importer(CERTIFICATE_POINTS, plan_points, apply_points, point_rows),
        Importer(COMPONENTS, plan_components, apply_components, component_rows),
        Importer(EARLIER, plan_earlier, apply_earlier, earlier_rows),
    )
}


def importer_of(kind: FileKind) -> Importer:
    return IMPORTERS[kind.code]
