"""Signed records without an entry of a chain: inserted, or their entry was removed."""

from django.db.models import Exists, OuterRef, Q

from fleet.models import Site
from inspections.chain.trouble import Trouble
from inspections.models import Amendment, ChainEntry, Inspection, Result, SignedRecord
from inspections.models.querysets.inspections import SIGNED_STAGES

NO_ENTRY = "no chain entry for it"


def against_chain(sites=None, *, using="default"):
    """Yield inspections, records, amendments and results that count as signed and are in no chain."""
    entry = ChainEntry.objects.using(using).filter(kind="signed")
    unchained = ~Exists(entry.filter(inspection=OuterRef("pk")))
    counted = Q(stage__in=SIGNED_STAGES) | Q(record__isnull=False)
    inspections = Inspection.objects.using(using).filter(unchained, counted)
    for row in _at(inspections, "machine__area__site", sites).values_list("machine__area__site__code", "pk"):
        yield Trouble("inserted", row[0], f"signed inspection {row[1]}: {NO_ENTRY}", inspection=row[1])
    amendments = Amendment.objects.using(using).filter(chain_entry=None)
    chosen = _at(amendments, "inspection__machine__area__site", sites)
    for site, pk, inspection in chosen.values_list("inspection__machine__area__site__code", "pk", "inspection_id"):
        yield Trouble("inserted", site, f"amendment {pk}: {NO_ENTRY}", inspection=inspection)
    yield from _dangling(entry, sites, using)


def _at(rows, path, sites):
    """In the order of their numbers, a bounded number at a time."""
    rows = rows.order_by("pk")
    return rows if sites is None else rows.filter(**{f"{path}__in": [site.pk for site in sites]})


def _dangling(entry, sites, using):
    """Results of an inspection that nobody signed, and records whose inspection is gone."""
    unsigned = ~Exists(entry.filter(inspection=OuterRef("step__inspection")))
    results = Result.objects.using(using).filter(unsigned).exclude(step__inspection__stage__in=SIGNED_STAGES)
    for site, pk, inspection in _at(results, "step__inspection__machine__area__site", sites).values_list(
        "step__inspection__machine__area__site__code", "pk", "step__inspection"
    ):
        yield Trouble("inserted", site, f"result {pk} of an inspection that was never signed", inspection=inspection)
    if sites is not None:
        return
    elsewhere = ~Exists(Site.objects.using(using).filter(pk=OuterRef("site_id")))
    entries = ChainEntry.objects.using(using).filter(elsewhere).order_by("pk")
    for row in entries.values("site_id", "sequence", "inspection_id"):
        yield Trouble(
            "altered", "-", "entry of a chain", "site_id", "a site", str(row["site_id"]), row["sequence"],
            row["inspection_id"],
        )  # fmt: skip
    gone = ~Exists(Inspection.objects.using(using).filter(pk=OuterRef("inspection_id")))
    for inspection in SignedRecord.objects.using(using).filter(gone).values_list("inspection_id", flat=True):
        yield Trouble("removed", "-", f"inspection {inspection}, whose record still exists", inspection=inspection)
