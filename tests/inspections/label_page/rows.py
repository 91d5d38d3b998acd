"""A row in every table of labels."""

from fleet.photographs.cleaning import digest_of_bytes
from inspections.actions import dismiss_report, issue_label, record_user_check, replace_label, report_from_label
from inspections.models import FaultPhotograph
from tests.factories import NOON

PICTURE = b"\xff\xd8\xff picture"


def make_label_rows(machine, by, mark):
    """A replaced label and the one in force, a fault report with a photograph, one dismissed, and a check.

    Return the label in force, the report that waits, and the check. Every text begins with `mark`.
    """
    issue_label(machine, by=by, at=NOON)
    label = replace_label(machine, reason=f"{mark} lost", by=by, at=NOON)
    texts = {"what": f"{mark} whistles", "where": f"{mark} theatre", "who": f"{mark} nurse"}
    report, other = (report_from_label(label, key=key, at=NOON, **texts) for key in "ab")
    digest = digest_of_bytes(PICTURE)
    FaultPhotograph.objects.create(report=report, content=PICTURE, digest=digest, width=16, height=16)
    dismiss_report(other, reason=f"{mark} known", by=by, at=NOON)
    check = record_user_check(
        label, kind="daily", by_name=f"{mark} nurse", check_list=f"{mark} list", result="problem", note=f"{mark} leaks",
        key="c", at=NOON,
    )  # fmt: skip
    return label, report, check
