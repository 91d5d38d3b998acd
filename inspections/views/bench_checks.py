"""The page of checks that follow each other, and the answer to one of them."""

from dataclasses import replace

from django.utils import timezone

from inspections.at_bench.bench_head import head_of
from inspections.at_bench.check_pages import CheckSheet, answered_about, checks_about
from inspections.at_bench.field_names import sent_of_step
from inspections.at_bench.known_steps import known_to
from inspections.at_bench.presence import others_at
from inspections.at_bench.progress import progress_of, step_progress
from inspections.forms.bench import NotTestedForm
from inspections.models import Reading
from inspections.views.at_site import render_at_site
from inspections.views.bench_answers import fragment
from inspections.views.step_form import keep_step


def shown_with(step):
    """Return the checks that are on one page with this one."""
    return checks_about(list(step.inspection.steps.that_apply()), step)


def keep_checks(step, data, instruments, *, by, at):
    """Save every answer of the page that was changed on it; return what was refused, by key of the step."""
    refused = {}
    for check in shown_with(step):
        sent = sent_of_step(data, check.pk) or (data if check.pk == step.pk else {})
        if wrong := keep_step(check, sent, instruments, by=by, at=at):
            refused[check.pk] = wrong
    return refused


def checks_page(request, step, refused):
    """The page that holds a check, opened at that one."""
    inspection = step.inspection
    progress = progress_of(inspection)
    page = checks_about([item.step for item in progress.that_apply], step)
    for check in page:
        check.inspection = inspection
    sheet = CheckSheet(page, {item.step.pk: item for item in progress.that_apply}, refused=refused)
    context = {
        "inspection": inspection,
        "machine": inspection.machine,
        "step": step,
        "checks": [_with_form(check) for check in sheet.checks],
        "answered": sheet.answered,
        "progress": progress,
        "head": head_of(step, [item.step for item in progress.that_apply]),
        "following": progress.after(page[-1]),
        "before": progress.before(page[0]),
        "known": known_to(request.user, page),
        "others": others_at(inspection, request.user, timezone.now()),
    }
    status = 422 if refused else 200
    return render_at_site(request, inspection.machine.site, "inspections/bench_checks.html", context, status=status)


def _with_form(check):
    return replace(check, not_tested_form=NotTestedForm(auto_id=f"not-tested-{check.step.pk}-%s"))


def check_answer(request, step, refused, refused_by):
    """The parts of the page that an answer to a check changes."""
    readings = list(Reading.objects.current().filter(step=step).select_related("instrument", "entered_by", "token"))
    here = step_progress(step, readings)
    sheet = CheckSheet([step], {step.pk: here}, refused={step.pk: refused})
    context = {"step": step, "check": sheet.check(step), "here": here, "answered": answered_about(step)}
    return fragment(request, "inspections/_check_answer.html", context, refused_by)
