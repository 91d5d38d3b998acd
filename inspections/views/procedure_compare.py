"""Two versions of a procedure side by side, a draft beside the version in force, its preview, and their files."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.export.download import file_response
from fleet.web.query_values import choice_asked
from inspections.forms.procedure_drafts import MachineForm
from inspections.models import Procedure
from inspections.procedure_editing.comparison import compare
from inspections.procedure_editing.draft_checks import shown_content
from inspections.procedure_editing.preview import example_machines, find_machine, preview_of
from inspections.procedure_editing.written_form import toml_text, written_form
from inspections.views.procedure_drafts import find_draft, may_read


@may_read
@require_safe
def procedure_compare(request, pk):
    """Two versions, by default the newest and the one before it."""
    found = get_object_or_404(Procedure, pk=pk)
    numbers = list(found.versions.order_by("-number").values_list("number", flat=True))
    if not numbers:
        raise Http404(f"{found} has no version.")
    accepted = [str(number) for number in numbers]
    new = choice_asked(request, "new", accepted, accepted[0])
    old = choice_asked(request, "old", accepted, next((one for one in accepted if int(one) < int(new)), accepted[-1]))
    by_number = {one.number: one for one in found.versions.filter(number__in=[old, new])}
    before, after = by_number[int(old)], by_number[int(new)]
    context = {"procedure": found, "numbers": numbers, "before": before, "after": after}
    context["names"] = (f"Version {before.number}", f"Version {after.number}")
    context["compared"] = compare(before.content, after.content)
    return render(request, "inspections/procedure_compare.html", context)


@may_read
@require_safe
def draft_compare(request, pk):
    """The draft beside the version in force; for one that was approved, beside the version that it was copied from."""
    found = find_draft(pk)
    before = found.procedure.current_version() if found.procedure and found.is_being_written else found.based_on
    context = {"draft": found, "procedure": found.procedure, "before": before}
    context["names"] = (f"Version {before.number}" if before else "No version", f"Draft {found.pk}")
    context["compared"] = compare(before.content if before else None, shown_content(found.content))
    return render(request, "inspections/procedure_compare.html", context)


@may_read
@require_safe
def draft_preview(request, pk):
    """The draft as a technician would see it on a machine, which is looked for by its asset number."""
    found = find_draft(pk)
    number = request.GET.get("machine", "")
    machine = find_machine(request.user, number) if number else None
    context = {"draft": found, "form": MachineForm(initial={"machine": machine or number}), "number": number}
    context["examples"] = example_machines(request.user)
    if machine:
        context["preview"] = preview_of(found.content, machine, on=timezone.localdate())
    return render(request, "inspections/procedure_draft_preview.html", context)


@may_read
@require_safe
def procedure_file(request, pk):
    """The TOML file of a version, by default of the one in force or the newest."""
    found = get_object_or_404(Procedure, pk=pk)
    versions = list(found.versions.order_by("-number").defer("content"))
    number = choice_asked(request, "version", [str(one.number) for one in versions])
    if not versions:
        raise Http404(f"{found} has no version.")
    asked = found.versions.get(number=number) if number else found.current_version() or versions[0]
    return file_response(f"{found.code}-version-{asked.number}.toml", toml_text(written_form(asked.content)))


@may_read
@require_safe
def draft_file(request, pk):
    found = find_draft(pk)
    return file_response(f"{found.code}-draft-{found.pk}.toml", toml_text({**found.content, "code": found.code}))
