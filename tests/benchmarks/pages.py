"""The pages that are measured, each as a function that asks for it once and gives the response."""

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Machine, Person
from inspections.at_bench.instrument_choice import instruments_at
from inspections.models import Finding, Inspection, Reading

EMPTY = "empty page"


def page_cases():
    """Return name -> function. Each page is requested by a person with its role, logged in."""
    clients = {name: client_of(Person.objects.get(username=name)) for name in ("planner", "technician", "manager")}
    by = {name: getter(client) for name, client in clients.items()}
    auditor = getter(client_of(Person.objects.get(username="auditor")))
    planner, technician, manager = by["planner"], by["technician"], by["manager"]
    history, usual = Machine.objects.filter(asset_number__in=("A-00000", "A-01234")).order_by("asset_number")
    return {
        EMPTY: planner("/empty/"),
        "fleet list": planner(reverse("fleet:machines")),
        "fleet list, last page": planner(reverse("fleet:machines") + "?page=190"),
        "fleet list, by next due": planner(reverse("fleet:machines") + "?sort=next_due_on"),
        "fleet list, by missing": planner(reverse("fleet:machines") + "?sort=-missing"),
        "fleet list, searched": planner(reverse("fleet:machines") + "?q=theatre"),
        "machine page": technician(usual.get_absolute_url()),
        "machine page, long history": technician(history.get_absolute_url()),
        "machine history": technician(reverse("fleet:machine_history", args=[history.pk])),
        "cover report": manager(reverse("fleet:cover")),
        "cover report, no ratio": manager(reverse("fleet:cover") + "?feature=ratio-protection&standing=gap"),
        "retirement review": manager(reverse("inspections:review")),
        "review of one machine": manager(reverse("inspections:review_machine", args=[history.pk])),
        "work list": planner(reverse("inspections:work")),
        "work list, overdue": planner(reverse("inspections:work") + "?view=overdue"),
        "work list, signed": planner(reverse("inspections:work") + "?view=signed"),
        "findings": planner(reverse("inspections:findings")),
        "instruments": planner(reverse("fleet:instruments")),
        "home of a planner": planner(reverse("home")),
        "home of a technician": technician(reverse("home")),
        "home of a manager": manager(reverse("home")),
        "home of an auditor": auditor(reverse("home")),
        **_programme_cases(planner, manager),
        **_record_cases(technician),
        **_bench_cases(clients["technician"]),
    }


def _programme_cases(planner, manager):
    """The pages of the programme: what was on time, what is planned, what lies ahead, drawn or listed."""
    by_name = {
        "on time": "inspections:on_time",
        "every due date": "inspections:due_dates",
        "week": "inspections:week",
        "fleet in pictures": "inspections:pictures",
        "exposure over time": "inspections:exposure",
        "programme": "inspections:programme",
        "alterations": "fleet:alterations",
        "machines away": "fleet:away_machines",
        "device books": "inspections:device_books",
        "safety notices": "inspections:notices",
        "what a sum can close": "inspections:fleet_choices",
    }
    cases = {name: manager(reverse(address)) for name, address in by_name.items()}
    return cases | {
        "on time, by machine model": manager(reverse("inspections:on_time") + "?by=model"),
        "week of a planner": planner(reverse("inspections:week")),
        "the year's plan": planner(reverse("inspections:year_plan")),
    }


def _record_cases(technician):
    signed = Inspection.objects.signed().filter(procedure__code="yearly").order_by("-signed_at").first()
    finding = Finding.objects.open().exclude(result=None).order_by("pk").first()
    return {
        "inspection record": technician(signed.get_absolute_url()),
        "finding": technician(finding.get_absolute_url()),
    }


def _bench_cases(client):
    """The bench page of the step with the most readings, and one reading of it entered as the page does."""
    inspection = Inspection.objects.in_progress().filter(technician__username="technician").first()
    step = inspection.steps.filter(test_code="supply-failure", applies=True).first()
    return {
        "bench entry": getter(client)(step.get_absolute_url()),
        "bench entry, one reading": ReadingEntry(client, step),
        "inspection on the bench": getter(client)(inspection.get_absolute_url()),
        "signing page": getter(client)(reverse("inspections:sign", args=[inspection.pk])),
    }


class ReadingEntry:
    """Enters one reading after another in the same place, as htmx does; `undo` removes all of them."""

    def __init__(self, client, step):
        self.client, self.step = client, step
        site, today = step.inspection.machine.site, timezone.localdate()
        usable = (each for each in instruments_at(site, today) if not each.refusal and "pressure" in each.dimensions)
        self.instrument = next(usable)
        self.stood = Reading.objects.current().filter(step=step, field="full_pressure").first()
        self.last = Reading.objects.order_by("-pk").first().pk
        self.count = 0
        self.url = reverse("inspections:reading_enter", args=[step.pk])

    def __call__(self):
        self.count += 1
        data = {
            "slot": "full_pressure",
            "full_pressure": f"{52 + self.count / 100:.2f}",
            "full_pressure:unit": "psi",
            "full_pressure:zero": "gauge",
            "full_pressure:instrument": str(self.instrument.pk),
        }
        return self.client.post(self.url, data, headers={"HX-Request": "true"})

    def undo(self):
        Reading.objects.filter(step=self.step, pk__gt=self.last).delete()
        Reading.objects.filter(pk=self.stood.pk).update(superseded_at=None, superseded_by=None)


def client_of(person):
    client = Client(SERVER_NAME="localhost")
    client.force_login(person)
    return client


def getter(client):
    return lambda url: lambda: client.get(url)
