"""The steps that a retest repeats beside those of its procedure: what failed, and what the repaired components do."""

from django.db.models import Min, Q

from inspections.at_bench.step_content import is_repeated_after
from inspections.at_bench.step_rows import machine_on_day, missing_feature, row_of, rows_of
from inspections.models import Finding, ProcedureVersion


def repeated_rows(inspection, rows, machine, *, on):
    """Return the rows that the findings of a retest add to `rows`, those of its own procedure."""
    findings = list(inspection.retests.select_related("result__step__component", "step__component"))
    covered = {row.what for row in rows if row.applies}
    used = {(row.code, row.subject) for row in rows}
    added = []
    for row in (*_of_failed(inspection, findings, machine), *rows_after_work(inspection, findings, machine, on=on)):
        if row.what not in covered:
            covered.add(row.what)
            row.code = _free_code(row, used)
            added.append(row)
    return added


def _of_failed(inspection, findings, machine):
    """The steps that failed, were not tested or did not decide, as they were."""
    for finding in findings:
        failed = finding.repeated_step
        if failed:
            content = {**failed.content, "code": f"retest-{finding.pk}"}
            absence = missing_feature(content, machine)
            yield row_of(inspection, content, subject=failed.subject, component=failed.component, absence=absence)


def rows_after_work(inspection, findings, machine, *, on):
    """Return the steps, of all procedures, of what the repaired or replaced components serve; only those that apply.

    inspection  the one that repeats them, or should have
    findings    what the work was about
    machine     the machine of the inspection as it was on the date `on` (machine_on_day)
    """
    touched = touched_components(inspection.machine, findings, on=on) if findings else []
    return list(_of_touched(inspection, touched, machine, on)) if touched else []


def rows_after_replacement(inspection, there, repair, because, *, on):
    """Return the steps that a repair calls for beside those `there`, with `because` in their content."""
    covered = {row.what for row in there if row.applies}
    used = {(row.code, row.subject) for row in there}
    machine, added = machine_on_day(inspection.machine, on), []
    for content in _steps_of_all_procedures(on):
        for row in rows_of(inspection, content, machine):
            if row.applies and row.what not in covered and repair.calls_for(row):
                covered.add(row.what)
                row.content, row.code = {**row.content, **because}, _free_code(row, used)
                added.append(row)
    return added


def _of_touched(inspection, touched, machine, on):
    for content in _steps_of_all_procedures(on):
        about = [one for one in touched if is_repeated_after(content, one.kind)]
        for row in rows_of(inspection, content, machine) if about else ():
            if row.applies and _same_gas(row, about):
                row.content = {**row.content, "repeated_because": _because(about)}
                yield row


def touched_components(machine, findings, *, on):
    """Return the components that the record of a repair names.

    Those of the steps that failed, and those fitted or removed from the day the first of the findings was opened
    until `on`; for an alteration, which may be entered some days later, from the day on which it was carried out.
    """
    named = [finding.repeated_step.component for finding in findings if finding.repeated_step]
    opened = min(finding.opened_at for finding in findings)
    since = machine.site.date_of(opened)
    if any(finding.origin == Finding.Origin.ALTERED for finding in findings):
        first = machine.alterations.filter(settled_at__gte=opened).aggregate(day=Min("done_on"))["day"]
        since = min(since, first or since)
    changed = Q(fitted_on__gte=since, fitted_on__lte=on) | Q(removed_on__gte=since, removed_on__lte=on)
    return [*(one for one in named if one), *machine.components.filter(changed)]


def _steps_of_all_procedures(on):
    """The steps of the version in force of every procedure, on the date `on`, without checks before use."""
    newest = ProcedureVersion.objects.newest(on).order_by("procedure__code")
    return [content for one in newest if not one.content.get("pre_use") for content in one.content["step"]]


def _same_gas(row, touched):
    """Whether a step of one component is of the gas of what was repaired; one whose gas is not known is of any."""
    gases = {one.gas for one in touched}
    return row.component is None or not row.component.gas or bool(gases & {"", row.component.gas})


def _because(touched):
    return f"After work on: {', '.join(dict.fromkeys(one.label for one in touched))}."


def _free_code(row, used):
    """The code of the step, with a number where another step of this inspection has it for the same subject."""
    code, number = row.code, 2
    while (code, row.subject) in used:
        code, number = f"{row.code}-{number}", number + 1
    used.add((code, row.subject))
    return code
