"""Machines, sites, areas and models by their names in files, read in a fixed number of queries."""

from django.db.models import Q
from django.db.models.functions import Lower

from fleet.imports.plan import problem
from fleet.models import Machine


class Machines:
    """The machines that a file names: those that may be changed, and those of other sites."""

    def __init__(self, rows, machines):
        names = {row.values["asset_number"] for row in rows}
        lower = [name.lower() for name in names]
        # Both spellings, because SQLite ignores case for ASCII only.
        is_named = Q(asset_number__in=names) | Q(lower__in=lower)
        named = machines.with_place().annotate(lower=Lower("asset_number")).filter(is_named)
        self.by_asset = {machine.asset_number: machine for machine in named}
        self.by_lower = {asset.lower(): asset for asset in self.by_asset}
        here = Machine.objects.filter(asset_number__in=names).values_list("asset_number", flat=True)
        self.elsewhere = set(here) - self.by_asset.keys()

    def of(self, row, problems):
        """Return the machine of a row, None if it is new; add a problem for a machine of another site."""
        asset = row.values["asset_number"]
        if asset in self.elsewhere:
            problems.append(
                problem(row, "asset_number", "is at a site that you may not change.", "machines of your sites.")
            )
        elif asset not in self.by_asset and asset.lower() in self.by_lower:
            other = self.by_lower[asset.lower()]
            message = f"differs only in capitals from {other}, which is in the register."
            accepted = f"{other}, or a different number."
            problems.append(problem(row, "asset_number", message, accepted, "name", other))
        return self.by_asset.get(asset)

    def known(self, row, problems):
        """Return the machine of a row that must be in the register; else add a problem."""
        machine = self.of(row, problems)
        if machine is None and not any(found.column == "asset_number" for found in problems):
            message = "is not a machine of the register."
            problems.append(problem(row, "asset_number", message, "the asset number of a machine that is entered."))
        return machine


def by_names(records, *names_of):
    """Return casefolded name -> record; each function of `names_of` gives one name of a record."""
    return {name_of(record).casefold(): record for name_of in reversed(names_of) for record in records}
