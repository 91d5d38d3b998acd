"""Fill a step from a file of an instrument: the file, its columns once, and one page with every value and its place."""

from dataclasses import asdict

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core import signing
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.errors import FileRefused, Refused
from fleet.register_file.plain_rows import PlainRows
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS
from inspections.actions import enter_readings_of_file
from inspections.at_bench.entry import StepEntry
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.reading_file import ColumnUse, Mapping, read_reading_file, remembered_mapping, targets_of
from inspections.errors import RecordFrozen
from inspections.forms.reading_file import ReadingColumnsForm, ReadingFileForm, placed_values
from inspections.models import InspectionStep
from inspections.views.at_site import render_at_site

SALT = "inspections.readings-file"
LONGEST_S = 12 * 3600  # a page that was left open overnight is read again
TOO_OLD = "This page is from another day, or was changed on its way. Choose the file again."

may_enter = permission_required("inspections.enter_reading", raise_exception=True)


@may_enter
@require_http_methods(FORM_METHODS)
def reading_file(request, pk, step_pk):
    """Ask for the file, then for its columns unless they are remembered, then show every value, and store them."""
    steps = InspectionStep.objects.visible_to(request.user).with_machine()
    step = get_object_or_404(steps.filter(inspection=pk, applies=True), pk=step_pk)
    show_as_site(step.inspection.machine.site)
    if not targets_of(step):
        raise Http404
    if not step.inspection.is_in_progress:
        messages.warning(request, f"{step.inspection} is {step.inspection.stage_word}: its readings are locked.")
        return redirect(step.inspection)
    page = _Page(request, step)
    answers = {"columns": page.columns_chosen, "again": page.columns_asked, "values": page.values_confirmed}
    return answers.get(request.POST.get("stage", ""), page.file)()


class _Page:
    """One request of the pages of a file. What was read of it travels with the page, signed."""

    def __init__(self, request, step):
        self.request, self.step, self.at = request, step, timezone.now()
        site = step.inspection.machine.site
        self.instruments = instruments_at(site, site.date_of(self.at), person=request.user)
        self.targets = targets_of(step)

    def file(self):
        """Show the form for the file; of a file that was sent, its columns or its values."""
        data = self.request.POST if self.request.method == "POST" else None
        form = ReadingFileForm(data, self.request.FILES or None, choices=self.instruments)
        if data is None or not form.is_valid():
            return self._shown("file", {"form": form}, is_refused=data is not None)
        try:
            rows = read_reading_file(form.content)
        except FileRefused as error:
            form.add_error(None, str(error))
            return self._shown("file", {"form": form}, is_refused=True)
        chosen = form.choices.get(form.cleaned_data["instrument"])
        mapping = remembered_mapping(_name_of(chosen), self.step, rows)
        if mapping is None:
            return self._columns(rows, chosen, ReadingColumnsForm(rows=rows, targets=self.targets))
        return self._values(rows, chosen, mapping, is_remembered=True)

    def columns_asked(self):
        """Show the columns of a file again, as they were assigned."""
        carried = self._carried()
        if carried is None:
            return self._from_the_start()
        rows, chosen, mapping = carried
        return self._columns(rows, chosen, ReadingColumnsForm(rows=rows, targets=self.targets, mapping=mapping))

    def columns_chosen(self):
        carried = self._carried()
        if carried is None:
            return self._from_the_start()
        rows, chosen, _ = carried
        form = ReadingColumnsForm(self.request.POST, rows=rows, targets=self.targets)
        if not form.is_valid():
            return self._columns(rows, chosen, form, is_refused=True)
        return self._values(rows, chosen, form.mapping)

    def values_confirmed(self):
        """Store what was shown and chosen, all or nothing."""
        carried = self._carried()
        if carried is None or carried[2] is None:
            return self._from_the_start()
        rows, chosen, mapping = carried
        values = self._placed(rows, chosen, mapping, data=self.request.POST)
        if not values or any(value.refusal for value in values):
            return self._values(rows, chosen, mapping, is_refused=True)
        ticked = {*self.request.POST.getlist("replace")}
        wanted = [one for one in values if one.was_empty or one.is_overtaken or {"all", one.slot.name} & ticked]
        entries = [one.entry for one in wanted if not one.is_same]
        told = {"mapping": mapping, "instrument": _name_of(chosen), "by": self.request.user, "at": self.at}
        try:
            stored = enter_readings_of_file(self.step, entries, **told)
        except RecordFrozen as error:
            messages.error(self.request, str(error))
            return redirect(self.step.inspection)
        except Refused as error:
            return self._values(rows, chosen, mapping, error=str(error), is_refused=True)
        messages.success(self.request, _stored_words(stored, len(values) - len(entries)))
        return redirect(self.step)

    def _placed(self, rows, chosen, mapping, data=None):
        entry = StepEntry(self.step, self.instruments)
        return placed_values(
            self.step, rows, mapping, self.targets, self.instruments, instrument=chosen, entry=entry, data=data
        )

    def _columns(self, rows, chosen, form, *, is_refused=False):
        context = {"form": form, "rows": rows, "instrument": chosen, "carried": _signed(rows, chosen, None)}
        return self._shown("columns", context, is_refused=is_refused)

    def _values(self, rows, chosen, mapping, *, error="", is_refused=False, is_remembered=False):
        values = self._placed(rows, chosen, mapping)
        context = {
            "rows": rows,
            "instrument": chosen,
            "values": values,
            "refused": [value for value in values if value.refusal],
            "in_the_way": [value for value in values if value.is_in_the_way],
            "error": error,
            "is_remembered": is_remembered,
            "carried": _signed(rows, chosen, mapping),
        }
        return self._shown("values", context, is_refused=is_refused)

    def _carried(self):
        """Return what the page sends back of its file: rows, instrument and mapping; None if it is not valid."""
        try:
            said = signing.loads(self.request.POST.get("carried", ""), salt=SALT, max_age=LONGEST_S)
        except signing.BadSignature:
            return None
        rows = said["rows"]
        body = tuple((number, tuple(cells)) for number, cells in rows["rows"])
        rows = PlainRows(**{**rows, "labels": tuple(rows["labels"]), "rows": body})
        chosen = next((one for one in self.instruments if one.pk == said["instrument"]), None)
        uses = {label: ColumnUse(**use) for label, use in said["columns"].items()}
        return rows, chosen, Mapping(uses, said["decimal"]) if uses else None

    def _from_the_start(self):
        messages.error(self.request, TOO_OLD)
        return redirect(self.request.path)

    def _shown(self, name, context, *, is_refused=False):
        inspection = self.step.inspection
        context |= {"step": self.step, "inspection": inspection, "machine": inspection.machine}
        template = f"inspections/reading_file/{name}.html"
        status = 422 if is_refused else 200
        return render_at_site(self.request, inspection.machine.site, template, context, status=status)


def _name_of(choice):
    return choice.instrument.name if choice else ""


def _signed(rows, chosen, mapping):
    said = {
        "rows": asdict(rows),
        "instrument": chosen.pk if chosen else None,
        "columns": mapping.as_json() if mapping else {},
        "decimal": mapping.decimal if mapping else "",
    }
    return signing.dumps(said, salt=SALT, compress=True)


def _stored_words(stored, left):
    words = f"{stored} reading{'' if stored == 1 else 's'} stored from the file."
    if not left:
        return words
    return f"{words} {left} that {'was' if left == 1 else 'were'} there already {'stays' if left == 1 else 'stay'}."
