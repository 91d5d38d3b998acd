"""Sites with their areas, and people, from a pasted list: what each line would make, and its problems."""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.models import Group
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.text import slugify

from fleet.models import Area, Person, Site
from fleet.models.places import HIGHEST_M, LOWEST_M
from fleet.register_file.pasted import pasted_lines

LONGEST = 200_000  # letters
MOST_MACHINES = 1000
PLACE_COLUMNS = (
    ("site", "hospital", "site name"),
    ("area", "location", "theatre", "department", "area name"),
    ("minimum", "minimum machines", "minimum number"),
    ("altitude", "altitude m", "height"),
    ("time zone", "zone"),
)
PEOPLE_COLUMNS = (
    ("first name", "given name", "forename"),
    ("last name", "surname", "family name", "name"),
    ("username", "user name", "login", "user"),
    ("email", "e mail", "mail", "email address"),
    ("groups", "group", "role", "roles"),
    ("sites", "site", "hospital"),
)


class PastedForm(forms.Form):
    """The text of a list. `plan` holds what it would make once the form is valid."""

    lines = forms.CharField(
        max_length=LONGEST, strip=False, widget=forms.Textarea({"rows": 12, "spellcheck": "false"}), label="List"
    )
    columns: Sequence = ()

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person
        self.fields["lines"].help_text = (
            f"One line each, parted by tabs as from a spreadsheet, by semicolons or by commas: "
            f"{'; '.join(names[0] for names in self.columns)}. A line with these names above the list is left out."
        )

    def clean(self):
        cleaned = super().clean()
        if "lines" in cleaned:
            self.plan = self.planned(*pasted_lines(cleaned["lines"], self.columns))
        return cleaned


@dataclass
class PastedPlan:
    """The rows that would be made, those that exist already, and the problems as (line, sentence)."""

    new: list
    known: list
    problems: list

    @property
    def is_ready(self):
        return bool(self.new) and not self.problems

    @property
    def sign(self):
        """A short text that differs when the plan differs from the one that a page showed."""
        return sha256(repr([self.new, self.problems]).encode()).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class NewPlace:
    """A line: a site, an area of it, or both. Fields of the site are None where it exists already."""

    line: int
    site: str
    area: str
    minimum: int
    site_fields: tuple | None = None

    @property
    def fields(self):
        return dict(self.site_fields or ())


class PastedPlacesForm(PastedForm):
    columns = PLACE_COLUMNS

    def planned(self, lines, problems):
        names = _names(Site.objects.visible_to(self.person))
        held = {(site.casefold(), area.casefold()) for site, area in Area.objects.values_list("site__name", "name")}
        taken = {name.casefold() for name in Site.objects.values_list("name", flat=True)}
        plan, made = PastedPlan([], [], list(problems)), {}
        for line in lines:
            try:
                place = self._place(line, names, taken, made)
            except ValueError as error:
                plan.problems.append((line.number, str(error)))
                continue
            key = (place.site.casefold(), place.area.casefold())
            is_known = key in held or (not place.area and place.site_fields is None)
            (plan.known if is_known else plan.new).append(place)
            held.add(key)
        plan.problems.sort()
        return plan

    def _place(self, line, names, taken, made):
        """Return what a line says. Raises ValueError with what is accepted."""
        site, area, minimum, altitude, zone = line.cells
        if not site:
            raise ValueError("has no site. Accepted: the name of a site in the first cell.")
        if len(area) > 100 or len(site) > 100:
            raise ValueError("has a name of more than 100 characters. Accepted: at most 100.")
        number = _whole(minimum or "0", "minimum number of machines", 0, MOST_MACHINES)
        known = names.get(site.casefold()) or made.get(site.casefold())
        if known:
            return NewPlace(line.number, known, area, number)
        return NewPlace(line.number, site, area, number, self._site(site, altitude, zone, taken, made))

    def _site(self, site, altitude, zone, taken, made):
        if self.person.site_ids or site.casefold() in taken:
            listed = ", ".join(Site.objects.visible_to(self.person).values_list("name", flat=True)[:12]) or "none"
            raise ValueError(f"“{site}” is no site that you may change. Accepted: {listed}.")
        if not altitude or not zone:
            raise ValueError(
                f"“{site}” is new, and the line lacks its altitude or time zone. Accepted: metres above sea level, "
                "and a name of the IANA list, such as 12; Europe/Lisbon, in the first line that names the site."
            )
        if zone not in available_timezones():
            raise ValueError(f"“{zone}” is not a time zone. Accepted: a name of the IANA list, such as Europe/Lisbon.")
        fields = {"altitude_m": _whole(altitude, "altitude in metres", LOWEST_M, HIGHEST_M), "time_zone": zone}
        made[site.casefold()] = site
        return tuple(fields.items())


@dataclass(frozen=True, slots=True)
class NewPerson:
    """A line: an account to be made, with groups and sites by name."""

    line: int
    username: str
    first_name: str
    last_name: str
    email: str
    groups: tuple[str, ...]
    sites: tuple[str, ...]

    @property
    def names(self):
        return {"first_name": self.first_name, "last_name": self.last_name, "email": self.email}


class PastedPeopleForm(PastedForm):
    columns = PEOPLE_COLUMNS

    def planned(self, lines, problems):
        self.groups = {name.casefold(): name for name in Group.objects.values_list("name", flat=True)}
        self.sites = _names(Site.objects.visible_to(self.person))
        self.held = {name.casefold() for name in Person.objects.values_list("username", flat=True)}
        plan, seen = PastedPlan([], [], list(problems)), set()
        for line in lines:
            try:
                person = self._person(line)
                if person.username.casefold() in seen:
                    raise ValueError(f"“{person.username}” is in the list twice. Accepted: a username for each person.")
            except ValueError as error:
                plan.problems.append((line.number, str(error)))
                continue
            seen.add(person.username.casefold())
            (plan.known if person.username.casefold() in self.held else plan.new).append(person)
        plan.problems.sort()
        return plan

    def _person(self, line):
        first, last, username, email, groups, sites = line.cells
        if not first or not last:
            raise ValueError("lacks a name. Accepted: first name and last name in the first two cells.")
        username = username or ".".join(part for part in (slugify(first), slugify(last)) if part)
        _checked(UnicodeUsernameValidator(), username, "username", "letters, digits and @ . + - _ only")
        if len(username) > 150 or max(len(first), len(last)) > 150:
            raise ValueError("has a name of more than 150 characters. Accepted: at most 150.")
        if email:
            _checked(validate_email, email, "email address", "one such as a.person@hospital.example")
        return NewPerson(
            line.number, username, first, last, email,
            self._named(groups, self.groups, "group"), self._their_sites(sites),
        )  # fmt: skip

    def _their_sites(self, text):
        sites = self._named(text, self.sites, "site that you may give")
        if self.person.site_ids and not sites:
            raise ValueError(f"names no site. Accepted: at least one of {', '.join(sorted(set(self.sites.values())))}.")
        return sites

    def _named(self, text, known, what):
        """Return the names that a cell lists; they are parted by commas, bars or “and”."""
        parts = [part.strip() for part in text.replace("|", ",").replace("+", ",").split(",") if part.strip()]
        for part in parts:
            if part.casefold() not in known:
                accepted = ", ".join(sorted(set(known.values()))) or "none yet"
                raise ValueError(f"“{part}” is no {what}. Accepted: {accepted}.")
        return tuple(known[part.casefold()] for part in parts)


def _names(sites):
    """Return the name of each site by its name and its code, casefolded."""
    return {name.casefold(): site.name for site in sites for name in (site.code, site.name)}


def _whole(text, what, low, high):
    digits = text.removeprefix("-")
    if not digits.isascii() or not digits.isdecimal() or not low <= int(text) <= high:
        raise ValueError(f"“{text}” is not a {what}. Accepted: a whole number from {low:,} to {high:,}.")
    return int(text)


def _checked(validator, text, what, accepted):
    try:
        validator(text)
    except ValidationError:
        raise ValueError(f"“{text}” is not a {what}. Accepted: {accepted}.") from None
