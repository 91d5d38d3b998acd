"""Load procedure files. A changed file becomes a new version; what was signed keeps the old one."""

from django.db import transaction

from inspections.at_bench.procedure_files import read_procedures
from inspections.models import Procedure, ProcedureVersion
from inspections.records.content import canonical_json, digest_of


@transaction.atomic
def load_procedures(directory, *, at):
    """Load every TOML file of a directory and return the versions that are new. Safe to repeat.

    Raise ProcedureError naming file, step and what is accepted; then nothing is loaded.
    """
    created = []
    for content in read_procedures(directory):
        procedure, _ = Procedure.objects.update_or_create(
            code=content["code"],
            defaults={
                "title": content["title"],
                "interval_months": content.get("interval_months"),
                "window_days": content.get("window_days", 14),
            },
        )
        version = _new_version(procedure, content, at)
        created += [version] if version else []
    return created


def _new_version(procedure, content, at):
    digest = digest_of(canonical_json(content))
    current = procedure.current_version()
    if current and current.digest == digest:
        return None
    number = current.number + 1 if current else 1
    return ProcedureVersion.objects.create(
        procedure=procedure, number=number, content=content, digest=digest, loaded_at=at
    )
