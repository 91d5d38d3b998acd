"""What one text finds, by sort, each bounded; two queries for each sort that the person may see."""

from dataclasses import dataclass

from django.urls import reverse

from fleet.models import Component, Instrument, Machine, Person
from fleet.web.at_site import day_words
from inspections.models import SafetyNotice

SHOWN = 10
MANAGE = "fleet.manage_people"
NOTICES = "inspections.view_safetynotice"
INSTRUMENTS = "fleet.view_instrument"


@dataclass(frozen=True, slots=True)
class Hit:
    label: str
    url: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """`more` is the address of the list with all of them, empty where all are shown."""

    title: str
    hits: tuple[Hit, ...]
    more: str = ""


def groups(person, text):
    """Return the sorts that hold something. Sites and rights of the person are respected."""
    found = [_machines(person, text), _components(person, text)]
    if person.has_perm(INSTRUMENTS):
        found.append(_instruments(person, text))
    if person.has_perm(MANAGE):
        found.append(_people(person, text))
    if person.has_perm(NOTICES):
        found.append(_notices(person, text))
    return [group for group in found if group.hits]


def _machines(person, text):
    rows = Machine.objects.visible_to(person).numbered(text).with_place().order_by("asset_number")
    more = reverse("fleet:machines", query={"q": text, "status": "any"})
    return _group("Machines", rows, _machine, more)


def _machine(one):
    serial = f"serial {one.serial}" if one.serial else "serial not recorded"
    return Hit(str(one), one.get_absolute_url(), f"{one.model}, {serial}, {one.area}, {_status(one)}")


def _components(person, text):
    rows = Component.objects.visible_to(person).numbered(text).filter(machine__staged="").select_related("machine")
    more = reverse("fleet:component_list", query={"q": text})
    return _group("Components", rows.order_by("removed_on", "machine__asset_number", "pk"), _component, more)


def _component(one):
    numbers = (("serial", one.serial), ("lot", one.lot), ("part number", one.part_number))
    fitted = f"fitted {day_words(one.fitted_on)}"
    until = f"removed {day_words(one.removed_on)}" if one.removed_on else "in place"
    note = ", ".join([*(f"{name} {value}" for name, value in numbers if value), fitted, until])
    return Hit(f"{one.label} of machine {one.machine}", one.machine.get_absolute_url(), note)


def _instruments(person, text):
    rows = Instrument.objects.visible_to(person).found_by(text).select_related("site").order_by("code")
    return _group("Instruments", rows, _instrument, reverse("fleet:instruments", query={"q": text}))


def _instrument(one):
    note = f"serial {one.serial or 'not recorded'}, {one.site}{', retired' if one.is_retired else ''}"
    return Hit(str(one), one.get_absolute_url(), note)


def _people(person, text):
    rows = Person.objects.visible_to(person).found_by(text)
    return _group("People", rows, lambda one: Hit(str(one), one.get_absolute_url(), one.username),
                  reverse("fleet:people", query={"q": text}))  # fmt: skip


def _notices(person, text):
    def hit(one):
        return Hit(str(one), one.get_absolute_url(), f"{one.title}, {'open' if one.is_open else 'closed'}")

    return _group("Safety notices", SafetyNotice.objects.visible_to(person).found_by(text), hit,
                  reverse("inspections:notices", query={"q": text}))  # fmt: skip


def _group(title, rows, hit, more):
    found = list(rows[: SHOWN + 1])
    return Group(title, tuple(map(hit, found[:SHOWN])), more if len(found) > SHOWN else "")


def _status(machine):
    return machine.get_status_display().lower()
