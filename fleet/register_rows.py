"""The register as rows of a register file."""

from django.db.models import Prefetch

from fleet.models import FeatureState


def register_rows(machines, today):
    """Yield one mapping of column name to value for each machine, by asset number, in bounded chunks."""
    held = Prefetch("feature_states", queryset=FeatureState.objects.on(today), to_attr="held_states")
    for machine in machines.prefetch_related(None).prefetch_related(held).order_by("asset_number").iterator(500):
        yield {
            "asset_number": machine.asset_number,
            "serial": machine.serial,
            "model": machine.model.code,
            "site": machine.site.code,
            "area": machine.area.name,
            "built_year": machine.built_year or "",
            "in_use_from": machine.in_use_from.isoformat(),
            "duty": machine.duty,
            "note": machine.note,
            **{row.feature: row.state for row in machine.held_states},
        }
