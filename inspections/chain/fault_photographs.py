"""Every photograph of a fault report against the digest of its row, which the journal covers."""

from inspections.chain.trouble import Trouble, shown
from inspections.models import FaultPhotograph

AT_ONCE = 20  # photographs in memory at a time
SITE = "report__machine__area__site"


def against_fault_photographs(*, sites=None, using="default"):
    """Yield a Trouble for every photograph that is not the one of its digest; of all sites when None."""
    rows = FaultPhotograph.objects.using(using).select_related(SITE).order_by("pk")
    if sites is not None:
        rows = rows.filter(**{f"{SITE}__in": [site.pk for site in sites]})
    for one in rows.iterator(AT_ONCE):
        if not one.is_intact:
            code = one.report.machine.site.code
            found = f"SHA-256 {one.digest_of_content}"
            yield Trouble("altered", code, str(one), "content", shown(f"SHA-256 {one.digest}"), shown(found))
