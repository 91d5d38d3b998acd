"""Facts shown beside a machine's identity: when work is due, what is wrong, the result of the last inspection."""

from django.db.models import Count
from django.urls import reverse
from django.utils import timezone

from fleet.extensions import Fact
from fleet.web.at_site import day_words
from inspections.bench.decision_words import INCOMPLETE, NO_JUDGED_RESULT, WORST_FIRST
from inspections.models import Finding, Inspection, Result
from inspections.on_machine_page.user_check_facts import user_check_facts


def machine_facts(request, machine):
    """The facts of one machine, in a fixed number of queries."""
    return [_next_due(machine), _open_findings(machine), *_last_signed(machine), *user_check_facts(machine)]


def _next_due(machine):
    upcoming = Inspection.objects.open().filter(machine=machine).select_related("procedure").order_by("due_on", "pk")
    first = upcoming.first()
    if first is None:
        return Fact("Next due", "nothing planned")
    mark = "Overdue" if first.is_overdue(timezone.localdate()) else "Not due"
    words = f"{day_words(first.due_on)}{' overdue' if mark == 'Overdue' else ''}"
    return Fact("Next due", words, mark, first.get_absolute_url(), str(first.procedure))


def _open_findings(machine):
    found = list(Finding.objects.open().filter(machine=machine).values_list("severity", flat=True)[:100])
    if not found:
        return Fact("Findings", "none open")
    essential = found.count("essential")
    note = f"{essential} essential" if essential else ""
    return Fact(
        "Findings", f"{len(found)} open", "Open", reverse("inspections:machine_findings", args=[machine.pk]), note
    )


def _last_signed(machine):
    last = (
        Inspection.objects.signed()
        .filter(machine=machine)
        .with_result()
        .select_related("procedure")
        .order_by("-signed_at")
        .first()
    )
    if last is None:
        return [Fact("Last signed", "never inspected here")]
    judged = Result.objects.that_decide(last).exclude(decision="").order_by("decision")
    counts = dict(judged.values_list("decision").annotate(Count("pk")))
    told = [f"{counts[decision]} {decision}" for decision in WORST_FIRST if decision in counts]
    words, result = day_words(last.signed_at), last.result_words
    told = [result] if INCOMPLETE in result else [*told, *_unconfirmed(last)]
    mark = "" if result == NO_JUDGED_RESULT else result
    return [Fact("Last signed", words, mark, last.get_absolute_url(), ", ".join(told) or NO_JUDGED_RESULT)]


def _unconfirmed(last):
    return ["limit not confirmed"] if last.found_unconfirmed else []
