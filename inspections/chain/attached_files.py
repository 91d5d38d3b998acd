"""Every attached file against the digest of its row, which the journal proves.

A changed file is named by its number and title, with the digest that was stored and the one of the bytes found.
"""

from inspections.chain.trouble import Trouble, shown
from inspections.models import Attachment
from inspections.models.querysets.attachments import OF_SITE

NO_SITE = "-"
SITES = tuple(f"{path}__code" for path in OF_SITE.values())


def against_attachments(attachments):
    """Yield a Trouble for every file of the queryset that is missing, or is not the one of its digest.

    One file in memory at a time. One that a person removed keeps no content.
    """
    rows = attachments.order_by("pk").values(
        "pk", "title", "removed_at", "inspection", "content", "digest", "octets", *SITES
    )
    for row in rows.iterator(1):
        yield from _against_digest(row)


def _against_digest(row):
    found = None if row["content"] is None else Attachment.digest_of(row["content"])
    expected = None if row["removed_at"] else row["digest"]
    if found == expected:
        return
    kind = "removed" if found is None else "inserted" if expected is None else "altered"
    site = next((row[path] for path in SITES if row[path]), NO_SITE)
    yield Trouble(
        kind, site, f"attached file {row['pk']} ({row['title']})", "content",
        shown(expected and f"SHA-256 {expected}"), shown(found and f"SHA-256 {found}"), inspection=row["inspection"],
    )  # fmt: skip
