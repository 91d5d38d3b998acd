"""The pages of intervals by evidence: dossiers, rates of hidden failures, risk scores."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspections.actions import report_fault
from inspections.models import Finding, IntervalDossier, Proposal
from tests.factories import load_all_procedures, make_machine, make_model, make_person, make_signed_inspection
from tests.inspections.dossier_scene import store_dossier, yearly

URLS = ("interval_dossiers", "hidden_failure_rates", "risk_scores")


def sign_in(client, *groups):
    person = make_person(*groups)
    client.force_login(person)
    return person


@pytest.fixture
def planner(client, db):
    load_all_procedures()
    return sign_in(client, "planner")


@pytest.fixture
def dossier(planner):
    return store_dossier(planner, make_model())


def page(client, name, *args, **query):
    return client.get(reverse(f"inspections:{name}", args=args), query)


def inspected(model, number, *, failed=0):
    """Machines with two yearly inspections a year apart; in the second one of some a hidden failure was found."""
    procedure, by, now = yearly(), make_person("technician"), timezone.now()
    for count in range(number):
        machine = make_machine(model=model)
        for days in (370, 5):
            last = make_signed_inspection(machine, procedure, by=by, at=now - timedelta(days=days))
        if count < failed:
            result = last.steps.first().results.first()
            finding = report_fault(machine, title="Silent", severity="essential", by=None, at=now)
            kept = {"origin": Finding.Origin.RESULT, "result": result, "code": "silent-failure"}
            Finding.objects.filter(pk=finding.pk).update(found_how="inspection", **kept)


def test_a_draft_is_listed_read_proposed_and_decided_by_another(client, planner, dossier):
    assert str(dossier.procedure) in page(client, "interval_dossiers").content.decode()
    shown = page(client, "interval_dossier", dossier.pk)
    text = shown.content.decode()
    assert "1.73 % of the time at the upper bound" in text and dossier.digest in text and "6.6 h freed" in text
    sent = {
        "shown": shown.context["shown"], "from_date": timezone.localdate(), "reason": "Hours are short",
        "password": "secret-pass-phrase",
    }  # fmt: skip
    planner.set_password(sent["password"])
    planner.save(update_fields=["password"])
    client.force_login(planner)
    answer = client.post(reverse("inspections:interval_dossier", args=[dossier.pk]), sent)
    proposal = Proposal.objects.get()
    assert answer.url == proposal.get_absolute_url() and proposal.dossier == dossier
    sign_in(client, "manager")
    assert "Data behind this proposal" in client.get(answer.url).content.decode()


def test_a_dossier_is_drafted_on_its_form(client, planner):
    model = make_model()
    inspected(model, 12)
    today = timezone.localdate()
    sent = {
        "procedure": yearly().pk, "machine_model": model.pk, "interval_months": 6, "window_days": 14,
        "data_from": today - timedelta(days=700), "as_of": today, "most_percent": "2", "reason": "Failures were found",
    }  # fmt: skip
    answer = client.post(reverse("inspections:interval_dossier_add"), sent)
    drafted = IntervalDossier.objects.get()
    assert answer.url == drafted.get_absolute_url() and drafted.evidence["observed"]["gaps"] == 12
    refused = client.post(reverse("inspections:interval_dossier_add"), sent | {"interval_months": 24})
    assert "The records do not bear this interval" in refused.content.decode()


def test_a_draft_is_discarded_with_a_reason(client, dossier):
    url = reverse("inspections:interval_dossier_discard", args=[dossier.pk])
    assert client.post(url, {"reason": ""}).status_code == 200
    assert client.post(url, {"reason": "Too few data"}).url == reverse("inspections:interval_dossiers")
    assert "Too few data" in page(client, "interval_dossiers", view="all").content.decode()
    assert "Too few data" not in page(client, "interval_dossiers").content.decode()


def test_only_planners_draft_and_everybody_reads(client, dossier):
    for group in ("technician", "manager", "auditor"):
        sign_in(client, group)
        assert page(client, "interval_dossier", dossier.pk).status_code == 200
        for name, args in (("interval_dossier_add", ()), ("interval_dossier_discard", (dossier.pk,))):
            assert page(client, name, *args).status_code == 403
        assert all(page(client, name).status_code == 200 for name in URLS)


def test_the_rates_count_what_each_model_showed(client, planner):
    good, bad = make_model(manufacturer="Works", name="Good"), make_model(manufacturer="Works", name="Bad")
    inspected(good, 6)
    inspected(bad, 4, failed=3)
    lines = {line.pair.model.name: line for line in page(client, "hidden_failure_rates").context["lines"]}
    assert [(lines[name].pair.own.failed, lines[name].pair.own.number) for name in ("Good", "Bad")] == [(0, 6), (3, 4)]
    assert lines["Good"].pool.is_pooled and not lines["Bad"].pool.is_pooled
    assert lines["Good"].rate.value == 0 and lines["Bad"].rate.lower > 0


def test_every_point_of_a_score_has_its_reason_and_source(client, planner):
    """Life support 10, death 5, and no finding in long: 10 + 5 + 4 - 2 = 17, at least every 6 months (WHO 2011)."""
    make_machine(in_use_from=timezone.localdate() - timedelta(days=1500))
    lines = {line.procedure.code: line for line in page(client, "risk_scores").context["lines"]}
    line = lines["yearly"]
    assert all(part.reason and part.source for part in line.parts)
    assert sum(part.points for part in line.parts) == line.score.em == 17
    assert (line.interval.months, line.planned_words, line.is_planned_later) == (6, "every 12 months", True)


def test_findings_raise_the_history(client, planner):
    """Six findings in 36 machine months: one in 6 months is a point more than none in 30 (WHO 2011): 1 against -2."""
    machine = make_machine(in_use_from=timezone.localdate() - timedelta(days=1500))
    for number in range(6):
        report_fault(machine, title=f"Sticks {number}", severity="other", by=None, at=timezone.now())
    line = page(client, "risk_scores").context["lines"][0]
    assert line.parts[-1].points == 1 and "6 findings in 36 machine months" in line.parts[-1].reason


@pytest.mark.parametrize("name", URLS)
def test_a_list_asks_a_fixed_number_of_queries(client, planner, name):
    def grow():
        model = make_model()
        inspected(model, 2)
        store_dossier(planner, model)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert page(client, name).status_code == 200
        return len(asked)

    grow()
    few = queries()
    for _ in range(3):
        grow()
    assert queries() == few


def test_the_pages_of_a_new_department_say_what_to_do(client, planner):
    assert "Nothing to compute yet" in page(client, "hidden_failure_rates").content.decode()
    assert "No score yet" in page(client, "risk_scores").content.decode()
    assert "No dossier" in page(client, "interval_dossiers").content.decode()


def test_who_may_not_approve_cannot_send_the_form_of_a_draft(client, dossier):
    for group in ("auditor", "technician", "planner-in-chief"):
        sign_in(client, group)
        assert client.post(dossier.get_absolute_url(), {}).status_code == 403
        assert client.get(dossier.get_absolute_url()).status_code == 200
