"""The retirement review of a large fleet on paper."""

import io

from django.http import QueryDict
from django.utils import timezone

from fleet.days import long_date
from fleet.jobs import Result, job_kind
from fleet.models import Machine
from fleet.web.at_site import as_shown_to
from inspections.forms.review import ReviewForm
from inspections.reports.review import write_review
from inspections.retirement.gathering import rank_machines

REVIEW_PAPER = "review-paper"
MOST_AT_ONCE = 3000  # machines beyond which the paper is made in the background


def review_paper(person, query, *, today, top):
    """Return the retirement review as PDF bytes; `query` is the filter of the page as a QueryDict."""
    form = ReviewForm(query, person=person)
    ranked = rank_machines(form.select(Machine.objects.visible_to(person).not_retired()), today)
    return write_review(
        [each for each in ranked if form.keeps(each.review)],
        on=today,
        asked=form.in_words(),
        made=f"Made for {person}, {long_date(today)}",
        top=top,
    )


@job_kind(REVIEW_PAPER, "Retirement review as PDF", permission="inspections.view_review")
def write_review_paper(run):
    with as_shown_to(run.by):
        run.progress(0, 1, "Reviewing every machine")
        today = timezone.localdate(run.started_at)
        content = review_paper(run.by, QueryDict(run.params["query"]), today=today, top=run.params["top"])
        return Result("The retirement review is written.", io.BytesIO(content), f"retirement-review-{today}.pdf")
