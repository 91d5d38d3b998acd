"""The journal among what is verified: each difference with the site of its row."""

from django.apps import apps

from fleet.acting.covered import covered_models
from fleet.acting.scope import settle
from fleet.journal.checking import Walk
from fleet.journal.comparing import Comparison
from fleet.models import JournalHead, JournalLink, Site
from inspections.chain.trouble import Trouble, shown

NO_SITE = "-"
JOURNAL = 0  # the number by which a seal names the journal; no site has it
CODE = "journal"
# What leads from a row to its site, by column: the model that the column names, and the way on from there.
WAYS = (
    ("site_id", "fleet.Site", "code"),
    ("area_id", "fleet.Area", "site__code"),
    ("machine_id", "fleet.Machine", "area__site__code"),
    ("instrument_id", "fleet.Instrument", "site__code"),
    ("report_id", "inspections.FaultReport", "machine__area__site__code"),
    ("step_id", "inspections.InspectionStep", "inspection__machine__area__site__code"),
    ("finding_id", "inspections.Finding", "machine__area__site__code"),
    ("inspection_id", "inspections.Inspection", "machine__area__site__code"),
    ("component_id", "fleet.Component", "machine__area__site__code"),
    ("calibration_id", "fleet.Calibration", "instrument__site__code"),
)


def verify_journal(seen, *, sites=None, seals=(), using="default"):
    """Yield a Trouble for everything that is not as the journal says; with `sites`, of their rows and the links."""
    settle(using)
    walk, comparison = Walk(using), Comparison(using)
    codes = None if sites is None else {site.code for site in sites}
    for part in (walk.run(), comparison.run()):
        for difference in part:
            trouble = _trouble(difference, using)
            if codes is None or trouble.site in codes or trouble.site == NO_SITE:
                yield trouble
    seen.links, seen.rows = walk.links, comparison.rows
    yield from _against_seals([seal for seal in seals if seal.site == JOURNAL], using)


def _trouble(one, using):
    values = (shown(one.expected), shown(one.found)) if one.column else ("", "")
    what = one.what if one.link is None or str(one.link) in one.what else f"{one.what}, link {one.link}"
    return Trouble(one.kind, _site_of(one, using), what, one.column, *values)


def _site_of(difference, using):
    """The code of the site that the row of a difference belongs to, as far as that can be said."""
    if difference.row is None:
        return NO_SITE
    values = difference.values or _values_of(difference, using)
    if difference.table == Site._meta.db_table:
        return values.get("code") or NO_SITE
    for column, label, path in WAYS:
        if values.get(column) is not None:
            rows = apps.get_model(label).objects.using(using).filter(pk=values[column])
            return rows.values_list(path, flat=True).first() or NO_SITE
    return NO_SITE


def _values_of(difference, using):
    """The row itself, for what a link says of a row without its values."""
    model = next((one for one in covered_models() if one._meta.db_table == difference.table), None)
    row = model._base_manager.using(using).filter(pk=difference.row).values().first() if model else None
    return row or {}


def _against_seals(seals, using):
    for seal in seals:
        link = JournalLink.objects.using(using).filter(sequence=seal.sequence).first()
        if link is None:
            yield Trouble(
                "removed", NO_SITE, f"link {seal.sequence} of the journal, which a seal names", "digest", seal.digest,
                "nothing", seal.sequence,
            )  # fmt: skip
        elif link.digest != seal.digest:
            yield Trouble(
                "altered", NO_SITE, "a link of the journal that a seal names", "digest", seal.digest, link.digest,
                seal.sequence,
            )  # fmt: skip


def journal_head(using="default"):
    """The newest link of the journal, or None before it began."""
    return JournalHead.objects.using(using).filter(sequence__gt=0).first()
