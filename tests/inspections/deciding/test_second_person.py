"""Release, amendment, closing of an essential finding and change of a limit: password, reason, and a second person."""

from dataclasses import dataclass, field
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from fleet.actions import change_site, withdraw_machine
from fleet.models import Site
from inspections.actions import (
    amend_inspection,
    close_finding,
    end_limit_override,
    release_machine,
    report_fault,
)
from inspections.actions import set_limit_override as set_limit
from inspections.errors import GroundsChanged, Refused, SecondPersonNeeded
from inspections.models import Amendment, Finding, LimitOverride, Proposal
from inspections.proposals import confirm_proposal, take_back_proposal
from tests.decisions import CODED, shown_on
from tests.factories import NOON, PASSWORD, TODAY, make_person, make_site
from tests.inspections.scenes import FAILING, make_scene
from tests.inspections.test_two_at_once import at_once, refused

LATER = NOON + timedelta(hours=2)
LIMIT = {
    "test_code": "supply-failure", "result_key": "trip_pressure", "lower": 20.0, "unit": "psi", "from_date": TODAY,
    "reason": "Agreed locally", "source": "Service manual, section 7",
}  # fmt: skip


@pytest.fixture(autouse=True)
def two_hours_later(time_machine):
    time_machine.move_to(LATER, tick=False)


@dataclass
class Case:
    """One kind of decision, set up so that it needs a second person."""

    url: str
    first: object
    second: object
    without_right: object
    is_done: object
    disturb: object
    data: dict = field(default_factory=dict)
    reason: str = "reason"
    retest: object = None

    def shown(self, client, who):
        """The token that the page carries; for a limit it carries one once it is known what the limit judges."""
        client.force_login(who)
        page = client.get(self.url)
        if not shown_on(page):
            page = client.post(self.url, self.filled())
        return shown_on(page, retest=self.retest)

    def filled(self, **fields):
        named = {"retest": self.retest.pk} if self.retest is not None else {}
        return {self.reason: "Repaired and tested.", "password": PASSWORD, **named, **self.data, **fields}

    def send(self, client, who=None, **fields):
        who = who or self.first
        shown = self.shown(client, who)
        return client.post(self.url, self.filled(shown=shown, **fields))

    def propose(self, client):
        assert self.send(client).status_code == 302
        return Proposal.objects.get()


def release(scene):
    scene.complete(FAILING)
    scene.sign(at=NOON)
    withdraw_machine(scene.machine, by=scene.technician, at=NOON, reason="Trips too late")
    scene.again(at=NOON)
    scene.inspection.retests.set(Finding.objects.all())
    scene.complete()
    retest = scene.sign()
    scene.machine.refresh_from_db()
    return Case(
        f"/machines/{scene.machine.pk}/release/", scene.technician, scene.other, make_person("planner"),
        lambda: type(scene.machine).objects.get(pk=scene.machine.pk).status == "in service",
        lambda: report_fault(scene.machine, title="Leaks", severity="other", by=scene.other, at=LATER), retest=retest,
    )  # fmt: skip


def amendment(scene):
    scene.complete()
    signed = scene.sign(at=NOON)
    two_for(scene.machine.site, two_for_amendment=True)
    another = {"by": scene.other, "at": LATER, "proposed_by": scene.technician}
    return Case(
        f"/inspections/{signed.pk}/amend/", scene.technician, scene.other, make_person("planner"),
        lambda: Amendment.objects.filter(correction="51 psi").exists(),
        lambda: amend_inspection(signed, correction="Room 3", reason="Wrong room", **another),
        data={"correction": "51 psi"},
    )  # fmt: skip


def closing(scene):
    found = report_fault(scene.machine, title="Leaks", severity="essential", by=scene.other, at=NOON)
    return Case(
        f"/findings/{found.pk}/close/", scene.technician, scene.other, make_person("manager"),
        lambda: not Finding.objects.get(pk=found.pk).is_open,
        lambda: withdraw_machine(scene.machine, by=scene.other, at=LATER, reason="Leaks"), reason="note", data=CODED,
    )  # fmt: skip


def new_limit(scene):
    site, planner = scene.machine.site, make_person("planner")
    two_for(site, two_for_limit=True)
    data = {"site": site.pk, "result": "supply-failure/trip_pressure", "lower": "10", "unit": "psi",
            "source": "Service manual, section 7", "from_date": TODAY}  # fmt: skip
    return Case(
        "/library/limits/add/", planner, make_person("planner"), make_person("technician"),
        lambda: LimitOverride.objects.filter(lower=10).exists(),
        lambda: set_limit(**LIMIT, site=site, by=scene.other, proposed_by=planner, at=LATER), data=data,
    )  # fmt: skip


def limit_end(scene):
    site, planner, second = scene.machine.site, make_person("planner"), make_person("planner")
    limit = set_limit(**LIMIT, site=site, by=planner, at=NOON)
    two_for(site, two_for_limit=True)
    return Case(
        f"/library/limits/{limit.pk}/end/", planner, second, make_person("technician"),
        lambda: LimitOverride.objects.filter(until_date=TODAY).exists(),
        lambda: end_limit_override(
            limit, until_date=TODAY + timedelta(days=9), by=second, proposed_by=planner, at=LATER
        ),
        data={"until_date": TODAY},
    )  # fmt: skip


def two_for(site, **rules):
    change_site(site, by=make_person("planner"), at=NOON, **rules)


CASES = (release, amendment, closing, new_limit, limit_end)


@pytest.fixture(params=CASES, ids=lambda make: make.__name__)
def case(request, scene):
    return request.param(scene)


def test_one_person_proposes_and_another_confirms(client, case):
    proposal = case.propose(client)
    assert not case.is_done() and proposal.proposed_by == case.first
    client.force_login(case.second)
    page = client.post(proposal.get_absolute_url(), {"confirm": "1", "password": PASSWORD}, follow=True)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.settled_by) == ("confirmed", case.second)
    assert case.is_done() and "Confirmed" in page.text


def test_a_wrong_password_decides_nothing_and_the_reason_stays_in_the_form(client, case):
    page = case.send(client, password="guess-4711")
    assert page.status_code == 422 and not Proposal.objects.exists() and not case.is_done()
    assert "Repaired and tested." in page.text and "guess-4711" not in page.text


def test_without_a_reason_nothing_is_decided(client, case):
    for reason in ("", "  \t"):
        assert case.send(client, **{case.reason: reason}).status_code == 422
    assert not Proposal.objects.exists() and not case.is_done()


def test_a_form_that_does_not_say_what_it_showed_decides_nothing(client, case):
    client.force_login(case.first)
    assert client.post(case.url, case.filled()).status_code in (409, 422)
    assert not Proposal.objects.exists() and not case.is_done()


def test_what_changed_since_the_page_was_shown_is_told_and_nothing_decided(client, case):
    shown = case.shown(client, case.first)
    case.disturb()
    page = client.post(case.url, case.filled(shown=shown))
    assert page.status_code in (409, 422) and not Proposal.objects.exists() and not case.is_done()
    assert "has changed since you opened the page" in page.text or "already has an end date" in page.text


def test_its_author_does_not_confirm_it(client, case):
    proposal = case.propose(client)
    page = client.post(proposal.get_absolute_url(), {"confirm": "1", "password": PASSWORD})
    assert page.status_code == 422 and "You proposed" in page.text and not case.is_done()
    with pytest.raises(Refused, match="You proposed"):
        confirm_proposal(proposal, by=case.first, at=LATER)


def test_nobody_confirms_it_without_the_right(client, case):
    proposal = case.propose(client)
    client.force_login(case.without_right)
    for button in ("confirm", "decline", "take_back"):
        answer = client.post(proposal.get_absolute_url(), {button: "1", "reason": "No", "password": PASSWORD})
        assert answer.status_code == 403
    with pytest.raises(Refused, match="You cannot confirm"):
        confirm_proposal(proposal, by=case.without_right, at=LATER)
    assert Proposal.objects.get().is_waiting and not case.is_done()


def test_nobody_of_another_site_finds_it(client, case):
    proposal = case.propose(client)
    groups = [group.name for group in case.second.groups.all()]
    stranger = make_person(*groups, sites=[make_site()])
    client.force_login(stranger)
    assert client.get(proposal.get_absolute_url()).status_code == 404
    with pytest.raises(Refused, match="You cannot confirm"):
        confirm_proposal(proposal, by=stranger, at=LATER)


def test_a_second_person_with_a_wrong_password_confirms_nothing(client, case):
    proposal = case.propose(client)
    client.force_login(case.second)
    assert client.post(proposal.get_absolute_url(), {"confirm": "1", "password": "guess"}).status_code == 422
    assert Proposal.objects.get().is_waiting and not case.is_done()


def test_it_is_not_confirmed_when_what_it_rested_on_has_changed(client, case):
    proposal = case.propose(client)
    case.disturb()
    client.force_login(case.second)
    assert "The data behind this proposal has changed" in client.get(proposal.get_absolute_url()).text
    page = client.post(proposal.get_absolute_url(), {"confirm": "1", "password": PASSWORD})
    assert page.status_code == 422 and Proposal.objects.get().is_waiting and not case.is_done()
    with pytest.raises(GroundsChanged) as error:
        confirm_proposal(proposal, by=case.second, at=LATER)
    assert error.value.changes


def test_declined_with_a_reason_it_is_over(client, case):
    proposal = case.propose(client)
    client.force_login(case.second)
    url = proposal.get_absolute_url()
    assert client.post(url, {"decline": "1", "password": PASSWORD}).status_code == 422
    assert client.post(url, {"decline": "1", "reason": "Not yet", "password": PASSWORD}).status_code == 302
    proposal.refresh_from_db()
    assert (proposal.state, proposal.settled_reason) == ("declined", "Not yet")
    with pytest.raises(Refused, match="already declined"):
        confirm_proposal(proposal, by=case.second, at=LATER)
    assert not case.is_done() and "Not yet" in client.get(url).text


def test_only_its_author_takes_it_back(client, case):
    proposal = case.propose(client)
    with pytest.raises(Refused, match="nly this person can take it back"):
        take_back_proposal(proposal, by=case.second, at=LATER)
    client.post(proposal.get_absolute_url(), {"take_back": "1", "password": PASSWORD})
    proposal.refresh_from_db()
    assert proposal.state == "taken back" and not case.is_done()
    assert case.send(client).status_code == 302 and Proposal.objects.waiting().count() == 1


def test_while_one_waits_nobody_decides_the_same_beside_it(client, case):
    case.propose(client)
    page = case.send(client, case.second)
    assert page.status_code == 422 and "has already proposed this" in page.text
    assert Proposal.objects.count() == 1 and not case.is_done()


def test_who_can_confirm_it_reads_of_it_at_home_and_others_do_not(client, case):
    proposal = case.propose(client)
    link = proposal.get_absolute_url()
    for person, is_told in ((case.second, True), (case.first, False), (case.without_right, False)):
        client.force_login(person)
        assert (link in client.get("/").text) is is_told


def test_it_is_shown_where_it_belongs(client, case):
    proposal = case.propose(client)
    for record in (proposal.machine, proposal.inspection, proposal.finding):
        if record is not None:
            assert proposal.get_absolute_url() in client.get(record.get_absolute_url()).text


def test_a_proposal_is_not_rewritten(client, case):
    proposal = case.propose(client)
    proposal.reason = "Something else"
    with pytest.raises(Refused, match="cannot be changed"):
        proposal.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        Proposal.objects.update(state="confirmed", settled_by=proposal.proposed_by, settled_at=LATER)


class TestWithoutTheRule:
    """What one person may decide alone, with password and reason."""

    def test_who_did_not_sign_the_retest_releases_alone(self, client, scene):
        case = release(scene)
        assert case.send(client, case.second).status_code == 302
        assert case.is_done() and not Proposal.objects.exists()

    def test_a_site_may_let_the_signer_release(self, client, scene):
        case = release(scene)
        two_for(scene.machine.site, signer_may_release=True)
        assert case.send(client).status_code == 302 and case.is_done()

    def test_a_site_may_want_two_for_every_release(self, client, scene):
        case = release(scene)
        two_for(scene.machine.site, two_for_release=True, signer_may_release=True)
        case.send(client, case.second)
        assert Proposal.objects.get().proposed_by == case.second and not case.is_done()

    @pytest.mark.parametrize("make", [amendment, new_limit, limit_end])
    def test_one_person_decides_where_the_site_wants_no_second(self, client, scene, make):
        case = make(scene)
        Site.objects.update(two_for_amendment=False, two_for_limit=False)
        assert case.send(client).status_code == 302 and case.is_done()

    @pytest.mark.parametrize("make", CASES)
    def test_the_rule_holds_for_actions_too(self, scene, make):
        """Not only for pages: nothing decides it alone by another way."""
        case, alone = make(scene), {"by": scene.technician, "at": LATER}
        calls = {
            release: lambda: release_machine(scene.machine, retest=case.retest, reason="Mended", **alone),
            amendment: lambda: amend_inspection(scene.inspection, correction="51 psi", reason="Slip", **alone),
            closing: lambda: close_finding(Finding.objects.get(), note="ok", **alone),
            new_limit: lambda: set_limit(**LIMIT, site=scene.machine.site, **alone),
            limit_end: lambda: end_limit_override(LimitOverride.objects.get(), until_date=TODAY, **alone),
        }
        with pytest.raises(SecondPersonNeeded):
            calls[make]()
        assert not case.is_done()

    def test_a_limit_of_a_model_follows_the_strictest_site(self, scene):
        two_for(scene.machine.site, two_for_limit=True)
        with pytest.raises(SecondPersonNeeded, match=str(scene.machine.site)):
            set_limit(**LIMIT, machine_model=scene.machine.model, by=scene.technician, at=LATER)


def test_a_limit_that_judges_inspections_on_the_bench_names_them_before_it_is_set(client, scene):
    case = new_limit(scene)
    Site.objects.update(two_for_limit=False)
    client.force_login(case.first)
    page = client.post(case.url, case.filled())
    assert "1 inspection in progress will be judged by this limit" in page.text and str(scene.machine) in page.text
    assert not case.is_done() and 'value="10"' in page.text and PASSWORD not in page.text
    assert client.post(case.url, case.filled(shown=shown_on(page))).status_code == 302 and case.is_done()


def test_a_limit_that_judges_nothing_is_set_at_once_with_the_password(client, scene):
    case = new_limit(scene)
    Site.objects.update(two_for_limit=False)
    scene.inspection.steps.all().delete()
    client.force_login(case.first)
    assert client.post(case.url, case.filled(password="wrong")).status_code == 422 and not case.is_done()
    assert client.post(case.url, case.filled()).status_code == 302 and case.is_done()


def test_the_rules_of_a_site_are_set_on_its_page_and_kept_as_changes(client, scene):
    site = scene.machine.site
    client.force_login(make_person("planner"))
    data = {"name": site.name, "altitude_m": 620, "time_zone": site.time_zone, "two_for_amendment": "on"}
    assert client.post(f"/machines/sites/{site.pk}/edit/", data).status_code == 302
    site.refresh_from_db()
    assert site.two_for_amendment and not site.two_for_release
    assert "Second person for every amendment" in client.get(f"/changes/site/{site.pk}/").text


class TestAtOnce:
    @pytest.fixture(params=CASES, ids=lambda make: make.__name__)
    def case(self, request, transactional_db, tmp_path):
        return request.param(make_scene(tmp_path))

    def test_confirmed_twice_it_is_done_once(self, client, case):
        proposal = case.propose(client)
        third = make_person(*[group.name for group in case.second.groups.all()])
        results = at_once(
            *(
                lambda by=by: confirm_proposal(Proposal.objects.get(pk=proposal.pk), by=by, at=LATER)
                for by in (case.second, third)
            )
        )
        assert len(refused(results)) == 1 and case.is_done()

    def test_confirmed_and_taken_back_it_is_one_of_the_two(self, client, case):
        proposal = case.propose(client)
        results = at_once(
            lambda: confirm_proposal(Proposal.objects.get(pk=proposal.pk), by=case.second, at=LATER),
            lambda: take_back_proposal(Proposal.objects.get(pk=proposal.pk), by=case.first, at=LATER),
        )
        state = Proposal.objects.get().state
        assert len(refused(results)) == 1 and case.is_done() == (state == "confirmed")

    def test_confirmed_while_what_it_rests_on_changes(self, client, case):
        """Either the change comes first and nothing is confirmed, or the confirmation comes first."""
        proposal = case.propose(client)
        results = at_once(
            lambda: confirm_proposal(Proposal.objects.get(pk=proposal.pk), by=case.second, at=LATER), case.disturb
        )
        assert isinstance(results[0], Refused) or case.is_done()
        if isinstance(results[0], Refused):
            assert not case.is_done() and Proposal.objects.get().is_waiting
