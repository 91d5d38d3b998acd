"""The retirement review: the ranked list, one machine's reasons, a person's judgement."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from fleet.models import Machine
from fleet.views.lists import TableList
from fleet.views.machines import visible_machine
from fleet.web.form_methods import posted
from inspections.actions import judge_criterion
from inspections.deciding.grounds.of_judgement import judgement_grounds
from inspections.errors import GroundsChanged, Refused
from inspections.forms.review import JudgementForm, ReviewForm
from inspections.kept.ranking import KeptRanking
from inspections.kept.reviews import reviews_hold
from inspections.models import CriterionJudgement, KeptReview
from inspections.reports.review import CAUTIONS
from inspections.retirement.computed_exposure import exposure_lines
from inspections.retirement.gathering import can_be_judged, rank_machines, review_of, work_by_year
from inspections.retirement.weights import weights_of_sites
from inspections.review import CRITERIA, STEPS, Conclusion, closing, exposure, get_criterion
from inspections.tables.review import KeptReviewTable, ReviewTable
from inspections.views.grounds import grounds_context, shown_grounds, status_of

MOST_SITES = 12


class ReviewList(TableList):
    """The machines that are not retired, ranked, worst first."""

    permission_required = "inspections.view_review"
    export_permission = ["fleet.export_register"]
    export_name = "retirement-review"
    template_name = "inspections/review.html"
    rows_per_page = 40

    def setup(self, request, *args, **kwargs):
        super().setup(request, *args, **kwargs)
        self.is_kept = not request.GET.get("export") and reviews_hold(self.today)

    def get_queryset(self):
        if not self.is_kept:
            self.filter_form, self.ranked = ranked_for(self.request)
            return [each for each in self.ranked if self.filter_form.keeps(each.review)]
        self.filter_form = ReviewForm(self.request.GET, person=self.request.user)
        rows = KeptReview.objects.visible_to(self.request.user)
        self.ranked = KeptRanking(self.filter_form.select(rows, site="site"))
        return self.filter_form.keep(self.ranked.rows)

    def get_table_class(self):
        return KeptReviewTable if self.is_kept else ReviewTable

    @property
    def complete(self):
        return self.ranked.shown if self.is_kept else None

    def get_context_data(self, **kwargs):
        numbers = self._kept_numbers() if self.is_kept else self._numbers()
        return super().get_context_data(
            criteria=list(CRITERIA.values()), cautions=CAUTIONS, steps=STEPS.values(), **numbers, **kwargs
        )

    def _numbers(self):
        reviews = [each.review for each in self.ranked]
        return {
            "counts": [(word, sum(review.conclusion is word for review in reviews)) for word in Conclusion],
            "total": len(reviews),
            "provisional": sum(review.is_provisional for review in reviews),
            "weighed": weights_in_words(each.weighed for each in self.ranked),
        }

    def _kept_numbers(self):
        numbers = {name: getattr(self.ranked, name) for name in ("counts", "total", "provisional")}
        return numbers | {"weighed": weights_in_words(self.ranked.weighed())}


def weights_in_words(weighed):
    """Which weights ranked the machines: one sentence for each site, of at most MOST_SITES."""
    sites = {each.site.pk: each for each in weighed}
    words = [each.in_words for each in sorted(sites.values(), key=lambda each: each.site.name)]
    more = len(words) - MOST_SITES
    return words[:MOST_SITES] + ([f"{more} more sites: see the weights."] if more > 0 else [])


def ranked_for(request):
    """Return the filter of a request and the machines it keeps by place and model, ranked for today."""
    form = ReviewForm(request.GET, person=request.user)
    machines = form.select(Machine.objects.visible_to(request.user).not_retired())
    return form, rank_machines(machines, timezone.localdate())


@require_GET
@permission_required("inspections.view_review", raise_exception=True)
def review_machine(request, pk):
    """Show every criterion for one machine with its reason, and the burden with its evidence."""
    machine = visible_machine(request, pk)
    found = review_of(machine, timezone.localdate())
    weighed = weights_of_sites([machine.site])[machine.site.pk]
    answers = [(answer, can_be_judged(answer.criterion, found.facts)) for answer in found.answers]
    context = {
        "machine": machine,
        "review": found,
        "absolute": [pair for pair in answers if pair[0].criterion.is_absolute],
        "relative": [pair for pair in answers if not pair[0].criterion.is_absolute],
        "closing": closing(found),
        "exposure": exposure_lines(machine, found, weighed.weights),
        "weight": exposure(found, weighed.weights),
        "burden": found.burden.score(weighed.weights.burden),
        "parts": [(part, weighed.weights.burden[part.part.code]) for part in found.burden.parts],
        "weighed": weighed,
        "work": work_by_year(machine),
        "judgements": CriterionJudgement.objects.filter(machine=machine).select_related("by")[:50],
        "cautions": CAUTIONS,
    }
    return render(request, "inspections/review_machine.html", context)


@require_http_methods(["GET", "POST"])
@permission_required("inspections.judge_review", raise_exception=True)
def judge(request, pk, criterion):
    """Ask a person for the answer to a criterion that no record answers."""
    machine = visible_machine(request, pk)
    if criterion not in CRITERIA:
        raise Http404(f"There is no criterion “{criterion}”.")
    asked = get_criterion(criterion)
    found = review_of(machine, timezone.localdate())
    if not can_be_judged(asked, found.facts):
        messages.error(
            request, f"Criterion {criterion} of machine {machine} is answered from the records, not by a person."
        )
        return redirect("inspections:review_machine", machine.pk)
    form, about = JudgementForm(posted(request)), f"judge {pk} {criterion}"
    if request.method == "POST" and form.is_valid():
        given = {**form.cleaned_data, "shown": shown_grounds(request, about)}
        try:
            judge_criterion(machine, criterion, by=request.user, at=timezone.now(), **given)
        except GroundsChanged:
            found = review_of(machine, timezone.localdate())
        except Refused as error:
            form.add_error("reason", str(error))
        else:
            messages.success(request, f"Criterion {criterion} of machine {machine} is judged.")
            return redirect("inspections:review_machine", machine.pk)
    earlier = CriterionJudgement.objects.filter(machine=machine, criterion=criterion).select_related("by")[:20]
    back = reverse("inspections:review_machine", args=[machine.pk])
    context = {"machine": machine, "criterion": asked, "form": form, "earlier": earlier, "cancel_url": back}
    context |= grounds_context(request, about, judgement_grounds(machine, criterion, found))
    return render(request, "inspections/judge.html", context, status=status_of(context, form))
