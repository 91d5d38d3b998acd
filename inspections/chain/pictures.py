"""Every stored photograph against the digests of its row, which the chain or the journal proves."""

from inspections.chain.trouble import Trouble, shown
from inspections.models import Photograph

AT_ONCE = 20  # photographs in memory at a time
COLUMNS = {"content": "digest", "preview": "preview_digest"}
SITE = "machine__area__site__code"
OF_STEP, OF_FINDING = f"step__inspection__{SITE}", f"finding__{SITE}"


def against_photographs(photographs):
    """Yield a Trouble for every photograph of the queryset whose picture is missing, or is not the one of its digest.

    In bounded memory. A photograph that was removed keeps no picture.
    """
    rows = photographs.order_by("pk").values(
        "pk", "caption", "removed_at", "step__inspection", OF_STEP, OF_FINDING, *COLUMNS, *COLUMNS.values()
    )
    for row in rows.iterator(AT_ONCE):
        for column, digest in COLUMNS.items():
            yield from _against_digest(row, column, digest)


def _against_digest(row, column, digest):
    found = None if row[column] is None else Photograph.digest_of(row[column])
    expected = None if row["removed_at"] else row[digest]
    if found == expected:
        return
    kind = "removed" if found is None else "inserted" if expected is None else "altered"
    caption = f" ({row['caption']})" if row["caption"] else ""
    yield Trouble(
        kind, row[OF_STEP] or row[OF_FINDING], f"photograph {row['pk']}{caption}", column,
        shown(expected and f"SHA-256 {expected}"), shown(found and f"SHA-256 {found}"),
        inspection=row["step__inspection"],
    )  # fmt: skip
