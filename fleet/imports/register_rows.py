"""The register as rows of a register file."""

from fleet.models import FeatureState

CHUNK = 500


def register_rows(machines, today):
    """Yield one mapping of column name to value for each machine, by asset number, in chunks of two queries."""
    chosen = machines.prefetch_related(None).order_by("asset_number").values_list("pk", flat=True)
    keys = list(chosen)
    for start in range(0, len(keys), CHUNK):
        yield from _chunk(machines.model.objects.filter(pk__in=keys[start : start + CHUNK]), today)


def _chunk(machines, today):
    states = {}
    held = FeatureState.objects.on(today).filter(machine__in=machines).order_by()
    for pk, feature, state in held.values_list("machine", "feature", "state"):
        states.setdefault(pk, {})[feature] = state
    for machine in machines.with_place().order_by("asset_number"):
        yield {
            "asset_number": machine.asset_number,
            "serial": machine.serial,
            "model": machine.model.code,
            "site": machine.site.code,
            "area": machine.area.name,
            "built_year": machine.built_year or "",
            "in_use_from": machine.in_use_from.isoformat(),
            "duty": machine.status,
            "note": machine.note,
            **states.get(machine.pk, {}),
        }
