"""Who may open and who may change, page by page: every page of this part against every group."""

import pytest

from inspections.actions import report_fault, set_limit_override
from inspections.bench import get_test
from inspections.models import Finding, Inspection, LimitOverride, Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_inspection, make_machine, make_person, make_site
from tests.services.rows_of_module import rows_of_module

GROUPS = ("planner", "technician", "manager", "auditor", None)
READ = {"/inspections/", "/inspections/attempted/", "/inspections/on-time/", "/inspections/on-time/due-dates/",
        "/inspections/programme/", "/findings/", "/findings/{finding}/", "/machines/{machine}/release/", "/library/",
        "/library/procedures/", "/library/procedures/{procedure}/", "/library/tests/", "/library/tests/supply-failure/",
        "/library/safety-features/", "/library/limits/"}  # fmt: skip
CHANGE = {
    "/inspections/book/": {"planner"},
    "/machines/{machine}/plan/": {"planner"},
    "/inspections/{inspection}/book/": {"planner"},
    "/inspections/{inspection}/void/": {"planner"},
    "/inspections/{inspection}/attempt/": {"planner", "technician"},
    "/findings/{finding}/close/": {"planner", "technician"},
    "/findings/{finding}/code/": {"planner", "technician"},
    "/machines/{machine}/fault/": {"planner", "technician", "manager"},
    "/machines/{machine}/retest/": {"planner", "technician"},
    "/machines/{machine}/release/": {"technician"},
    "/library/limits/add/": {"planner"},
    "/library/limits/{limit}/end/": {"planner"},
}
POSTED = {"reason": "Because", "note": "Because", "title": "Because", "severity": "other", "source": "A manual",
          "booked_on": TODAY, "due_on": TODAY, "until_date": TODAY, "from_date": TODAY}  # fmt: skip


@pytest.fixture(scope="module")
def made(request):
    with rows_of_module(request, make_records) as copy:
        yield copy


@pytest.fixture
def records(db, made):
    return made()


def make_records():
    load_all_procedures()
    machine = make_machine()
    inspection = make_inspection(machine)
    finding = report_fault(machine, title="Flush sticks", severity="other", by=None, at=NOON)
    limit = set_limit_override(
        test_code="supply-failure", result_key=get_test("supply-failure").results[0].key, lower=26.0, unit="psi",
        reason="Local", source="A manual", from_date=TODAY, by=None, at=NOON, site=make_site(),
    )  # fmt: skip
    return {"machine": machine.pk, "inspection": inspection.pk, "finding": finding.pk, "limit": limit.pk,
            "procedure": Procedure.objects.get(code="yearly").pk}  # fmt: skip


def person_of(group):
    return make_person(*([group] if group else []))


def state():
    """Everything that the pages of this part could change."""
    return (
        list(Inspection.objects.values_list("pk", "stage", "technician", "void_reason").order_by("pk")),
        list(Finding.objects.values_list("pk", "closed_at").order_by("pk")),
        list(LimitOverride.objects.values_list("pk", "until_date").order_by("pk")),
    )


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize("page", sorted(READ))
def test_the_four_groups_read_every_page_and_nobody_else(client, records, page, group):
    client.force_login(person_of(group))
    assert client.get(page.format(**records)).status_code == (200 if group else 403)


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize("page", sorted(CHANGE))
def test_a_page_that_changes_something_is_open_to_its_groups_only(client, records, page, group):
    client.force_login(person_of(group))
    before = state()
    response = client.post(page.format(**records), POSTED)
    assert (response.status_code != 403) == (group in CHANGE[page])
    if group not in CHANGE[page]:
        assert state() == before


@pytest.mark.parametrize("page", sorted(READ | set(CHANGE)))
def test_somebody_not_signed_in_is_sent_to_sign_in(client, records, page):
    assert client.get(page.format(**records)).url.startswith("/login/")


@pytest.mark.parametrize("page", sorted(set(CHANGE)))
def test_a_form_without_its_token_is_refused(records, page):
    from django.test import Client

    strict = Client(enforce_csrf_checks=True)
    strict.force_login(make_person("planner", "technician"))
    assert strict.post(page.format(**records), POSTED).status_code == 403


@pytest.mark.parametrize("page", sorted(set(CHANGE)))
def test_other_methods_are_refused(client, records, page):
    client.force_login(make_person("planner", "technician"))
    assert client.delete(page.format(**records)).status_code == 405
