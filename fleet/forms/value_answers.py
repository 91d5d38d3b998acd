"""The answers to what values of a file mean: one choice for each distinct value."""

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from fleet.circuit.kit import MACHINE_KINDS
from fleet.forms.model_start import model_fields
from fleet.forms.places import zone_choices
from fleet.imports.answering import Answer
from fleet.imports.value_questions import questions_of
from fleet.models import Area, MachineModel, Site
from fleet.models.places import HIGHEST_M, LOWEST_M
from fleet.register_file.cells import CellRefused, Manner, value_of
from fleet.register_file.likeness import most_like

WAIT, BLANK, AS_WRITTEN, LEAVE_OUT, NEW = "", "=blank", "=as", "=out", "=new"
KNOWN = "is:"
MOST_QUESTIONS = 100  # on one page; the rest follows once these are answered
MAKING = {"site": "fleet.add_site", "area": "fleet.add_area", "model": "fleet.add_machinemodel"}
NEW_WORDS = {"site": "Make this site", "area": "Make this area", "model": "Make this machine model"}
WAITING = "Not answered: its rows wait"


class ValueAnswersForm(forms.Form):
    """One select for each question, and what a new site or model needs beside it.

    suggests  whether the likeliest answers are filled in
    """

    def __init__(self, *args, upload, person, suggests=False, **kwargs):
        super().__init__(*args, **kwargs)
        self.person, self.kind, self.suggests = person, upload.file_kind, suggests
        found = questions_of(upload.snapshot)
        self.questions, self.more = found[:MOST_QUESTIONS], max(0, len(found) - MOST_QUESTIONS)
        self._read_names()
        for question in self.questions:
            self._add(question)
        self._add_whole_sites()

    def _read_names(self):
        """Read the names of the register that may be answers, in three queries."""
        sites = list(Site.objects.visible_to(self.person))
        self.sites = {site.code: site.name for site in sites}
        self.models = {model.code: str(model) for model in MachineModel.objects.all()}
        self.areas = {}
        for code, name in Area.objects.filter(site__in=sites).values_list("site__code", "name"):
            self.areas.setdefault(code, {})[name] = name

    def _add(self, question):
        known = self._known(question)
        choices = [(WAIT, WAITING), *((KNOWN + code, name) for code, name in known.items())]
        choices[1:1] = self._special(question)
        self.fields[question.code] = forms.ChoiceField(
            label=f"{question.column}: {question.value}",
            choices=choices,
            required=False,
            initial=self._suggested(question, known),
        )
        if any(value == NEW for value, _ in choices):
            self._add_new(question)
        if question.about == "cell" and not self.kind.columns[question.column].words:
            self.fields[f"{question.code}-text"] = forms.CharField(
                label="or read it as", required=False, max_length=160
            )

    def _known(self, question):
        if question.about == "cell":
            return {word: word for word in self.kind.columns[question.column].words}
        if question.about != "name":
            return {}
        names = {"site": self.sites, "model": self.models, "area": self.areas.get(question.within, {})}
        return names.get(question.column, {question.within: question.within})

    def _special(self, question):
        found = []
        if question.about == "name" and self._may_make(question.column):
            found.append((NEW, NEW_WORDS[question.column]))
        if question.about == "near":
            found.append((AS_WRITTEN, "Two machines: right as written"))
        if question.about in ("near", "twice"):
            found.append((LEAVE_OUT, "The same machine: leave this row out"))
        if question.about == "placeholder":
            found += [(BLANK, "Not known: leave it blank"), (AS_WRITTEN, "This is the serial number")]
        if question.about == "cell" and not self.kind.columns[question.column].is_needed:
            found.append((BLANK, "Not known: leave it blank"))
        return found

    def _may_make(self, column):
        if column not in MAKING or (column == "site" and self.person.site_ids):
            return False
        return self.person.has_perm(MAKING[column])

    def _suggested(self, question, known):
        if not self.suggests:
            return WAIT
        if question.about == "placeholder":
            return BLANK
        by_name = {name: code for code, name in known.items()}
        likely = most_like(question.value, by_name) if question.about == "name" else None
        return KNOWN + by_name[likely] if likely else WAIT

    def _add_new(self, question):
        name, code = question.value, question.code
        if question.column == "site":
            self.fields[f"{code}-name"] = forms.CharField(label="Name", max_length=100, required=False, initial=name)
            self.fields[f"{code}-altitude_m"] = forms.IntegerField(
                label="Altitude (m)", min_value=LOWEST_M, max_value=HIGHEST_M, required=False
            )
            self.fields[f"{code}-time_zone"] = forms.ChoiceField(
                label="Time zone", choices=zone_choices, required=False, initial=settings.TIME_ZONE
            )
        if question.column == "model":
            manufacturer, _, rest = name.partition(" ")
            self.fields[f"{code}-manufacturer"] = forms.CharField(
                label="Manufacturer", max_length=80, required=False, initial=manufacturer
            )
            self.fields[f"{code}-name"] = forms.CharField(label="Name", max_length=80, required=False, initial=rest)
            kinds = [("", "Choose the kind of machine"), *((kind.code, kind.name) for kind in MACHINE_KINDS.values())]
            self.fields[f"{code}-kind"] = forms.ChoiceField(label="Kind", choices=kinds, required=False)

    def _add_whole_sites(self):
        """Add one tick for each site of which several areas are asked about."""
        self.whole = {}
        if not self._may_make("area"):
            return
        for question in self.questions:
            if question.column == "area" and question.about == "name":
                self.whole.setdefault(question.within, []).append(question)
        for code, asked in self.whole.items():
            self.fields[f"all-{code}"] = forms.BooleanField(
                label=f"Make every area of {self.sites.get(code, code)} that has no other answer ({len(asked)})",
                required=False,
            )

    def rows(self):
        """Return (question, its select, the further fields beside it) of each question."""
        return [(one, self[one.code], self._beside(one)) for one in self.questions]

    def whole_sites(self):
        return [self[f"all-{code}"] for code in self.whole]

    def _beside(self, question):
        return [self[name] for name in self.fields if name.startswith(f"{question.code}-")]

    def clean(self):
        cleaned = super().clean()
        for question in self.questions:
            self._check(question, cleaned)
        if not self.errors and not self.answers():
            raise ValidationError("Nothing is answered yet. Choose what at least one value means.")
        return cleaned

    def _check(self, question, cleaned):
        text = cleaned.get(f"{question.code}-text")
        if text:
            try:
                value_of(self.kind.columns[question.column], text, Manner())
            except CellRefused as refused:
                self.add_error(f"{question.code}-text", f"“{text}” {refused.message} Accepted: {refused.accepted}")
        if cleaned.get(question.code) != NEW or question.column == "area":
            return
        for field in self._beside(question):
            name = field.name
            if name not in self.errors and cleaned.get(name) in (None, ""):
                self.add_error(name, f"Enter the {field.label.lower()} of what is to be made.")

    def answers(self):
        """Return the Answers that were given."""
        given = [self._answer(question) for question in self.questions]
        return [answer for answer in given if answer is not None]

    def _answer(self, question):
        cleaned = self.cleaned_data
        choice, text = cleaned.get(question.code, WAIT), cleaned.get(f"{question.code}-text", "")
        if (
            not choice
            and not text
            and cleaned.get(f"all-{question.within}")
            and question in self.whole[question.within]
        ):
            choice = NEW
        if text:
            return Answer(question.column, question.value, means=text)
        if choice == LEAVE_OUT:
            return Answer(question.column, question.value, left_out=tuple(question.rows))
        if choice == NEW:
            return Answer(question.column, question.value, question.within, new=self._new(question))
        if choice == AS_WRITTEN:
            return Answer(question.column, question.value, is_right=True)
        if choice == WAIT:
            return None
        means = "" if choice == BLANK else choice.removeprefix(KNOWN)
        return Answer(question.column, question.value, question.within, means=means)

    def _new(self, question):
        given = {
            field.name.partition("-")[2]: self.cleaned_data[field.name]
            for field in self._beside(question)
            if not field.name.endswith("-text")
        }
        if question.column == "area":
            return {"name": question.value}
        if question.column == "site":
            return given
        kind = MACHINE_KINDS[given.pop("kind")]
        return model_fields(kind, title=f"{given['manufacturer']} {given['name']}") | given
