"""Verify the signed records of the sites that a person may see, and list what is not as it was signed."""

import io

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.models import Site
from inspections.chain.journal import verify_journal
from inspections.chain.outside import against_chain
from inspections.chain.seals import read_seals
from inspections.chain.verification import BATCH, Verification, against_seals, verify_part
from inspections.models import ChainHead

VERIFICATION = "verification"
PART = 10 * BATCH
MOST_LISTED = 10_000


def request_verification(*, seals, by, at):
    """Ask for the verification of all records that `by` may see; `seals` is the text of a seal file, or empty."""
    return request_job(VERIFICATION, title="Signed records verified", params={"seals": seals}, by=by, at=at)


@job_kind(VERIFICATION, "Verifying signed records", permission="inspections.view_inspection")
def verify_records(run):
    """Write a line for each thing that was altered, removed or inserted. Changes nothing."""
    seals = read_seals(run.params["seals"]) if run.params["seals"] else []
    sites = list(Site.objects.visible_to(run.by).order_by("code"))
    seen, file, count = Verification(), io.BytesIO(), 0
    for count, trouble in enumerate(_troubles(run, sites, seals, seen), start=1):
        if count <= MOST_LISTED:
            file.write(f"{trouble}\n".encode())
    looked = f"{seen.records:,} records with {seen.entries:,} entries at {len(sites):,} site{_s(len(sites))}"
    looked += (
        f" and {seen.rows:,} row{_s(seen.rows)} with {seen.links:,} journal entr{'y' if seen.links == 1 else 'ies'}"
    )
    if not count:
        return Result(f"{looked} verified: all as signed.")
    words = f"{looked} verified: {count:,} item{_s(count)} not as signed. The file lists each."
    return Result(words, file, f"verification-{run.started_at:%Y-%m-%d}.txt")


def _troubles(run, sites, seals, seen):
    """Site by site, in parts, so that progress is shown and the job can be stopped."""
    total = sum(ChainHead.objects.filter(site__in=sites).values_list("sequence", flat=True))
    for site in sites:
        head = ChainHead.objects.filter(site=site).first()
        newest = head.sequence if head else 0
        first = 1
        while first + PART <= newest:
            run.progress(seen.entries, total, f"Verifying {site}")
            yield from verify_part(site, first=first, last=first + PART - 1, seen=seen)
            first += PART
        run.progress(seen.entries, total, f"Verifying {site}")
        yield from verify_part(site, first=first, seen=seen)
        yield from against_seals(site, [seal for seal in seals if seal.site == site.pk])
    run.progress(total, total, "Checking for records outside the chains")
    yield from against_chain(sites)
    run.progress(total, total, "Verifying the journal")
    limited = sites if run.by is not None and run.by.site_ids else None
    yield from verify_journal(seen, sites=limited, seals=seals)


def _s(count):
    return "" if count == 1 else "s"
