"""Who did a repair, and where a site wants somebody else to decide about the release."""

from datetime import timedelta
from itertools import product

import pytest

from fleet.actions import change_site, fit_component, withdraw_machine
from fleet.models import Machine
from inspections.actions import release_machine
from inspections.deciding.repair_people import people_of_repair
from inspections.errors import Refused, SecondPersonNeeded
from inspections.models import Finding, Proposal
from inspections.proposals import Releasing, confirm_proposal, decide
from tests.decisions import decision, send
from tests.factories import NOON, PASSWORD, TODAY, make_person
from tests.inspections.scenes import FAILING, enter

LATER = NOON + timedelta(hours=3)
BEFORE, SINCE = NOON - timedelta(days=3), NOON + timedelta(minutes=75)


@pytest.fixture(autouse=True)
def three_hours_later(time_machine):
    time_machine.move_to(LATER, tick=False)


@pytest.fixture
def people(scene):
    """One person for each part in it: the signer, one who entered a reading, one who fitted a component, and none."""
    return {
        "signer": scene.technician,
        "reader": scene.other,
        "fitter": make_person("technician", last_name="Fitter"),
        "earlier": make_person("technician", last_name="Earlier"),
        "nobody": make_person("technician", last_name="Nobody"),
    }


@pytest.fixture
def retest(scene, people):
    """A passing retest of the withdrawn machine, at a site that wants a person who did not do the repair."""
    site = scene.machine.site
    change_site(site, by=make_person("planner"), at=NOON, two_after_repair=True, signer_may_release=True)
    fit(scene, people["earlier"], BEFORE)
    scene.complete(FAILING)
    scene.sign(at=NOON + timedelta(minutes=60))
    withdraw_machine(scene.machine, by=people["nobody"], at=NOON + timedelta(minutes=70), reason="Trips too late")
    fit(scene, people["fitter"], SINCE)
    scene.again(at=NOON + timedelta(minutes=80))
    scene.inspection.retests.set(Finding.objects.all())
    scene.complete()
    enter(scene.step(), "set_flow", as_read="4.1", unit="L/min", instrument=scene.flowmeter, by=people["reader"],
          at=NOON + timedelta(minutes=85))  # fmt: skip
    return scene.sign(at=NOON + timedelta(minutes=90))


def fit(scene, by, at):
    fit_component(scene.machine, kind="filter", label=f"Filter of {by}", fitted_on=TODAY, by=by, at=at)


def machine_of(retest):
    return Machine.objects.get(pk=retest.machine_id)


def test_who_signed_read_or_fitted_did_the_repair_and_nobody_else(people, retest):
    did = people_of_repair(machine_of(retest), retest)
    assert set(did) == {people[part].pk for part in ("signer", "reader", "fitter")}
    assert did[people["signer"].pk] == f"signed {retest}"
    assert did[people["reader"].pk] == f"entered readings of {retest}"
    assert did[people["fitter"].pk] == "changed components of the machine"


REPAIRED = ("signer", "reader", "fitter")


@pytest.mark.parametrize("part", ["signer", "reader", "fitter", "earlier", "nobody"])
def test_alone_only_somebody_who_did_not_do_the_repair_releases(people, retest, part):
    alone = {"retest": retest, "reason": "Renewed", "by": people[part], "at": LATER}
    if part in REPAIRED:
        with pytest.raises(SecondPersonNeeded, match="did not do the repair"):
            release_machine(machine_of(retest), **alone)
    else:
        release_machine(machine_of(retest), **alone)
    assert machine_of(retest).status == ("withdrawn" if part in REPAIRED else "in service")


@pytest.mark.parametrize("first, second", [pair for pair in product(REPAIRED, (*REPAIRED, "earlier", "nobody"))
                                           if pair[0] != pair[1]])  # fmt: skip
def test_of_two_at_least_one_did_not_do_the_repair(people, retest, first, second):
    proposal = decide(Releasing(machine_of(retest), retest), reason="Renewed", by=people[first], at=LATER)
    assert "did not do the repair" in proposal.why
    if second in REPAIRED:
        with pytest.raises(Refused, match="part of the repair too"):
            confirm_proposal(proposal, by=people[second], at=LATER)
    else:
        confirm_proposal(proposal, by=people[second], at=LATER)
    assert machine_of(retest).status == ("withdrawn" if second in REPAIRED else "in service")
    assert Proposal.objects.get().state == ("waiting" if second in REPAIRED else "confirmed")


@pytest.mark.parametrize("part", REPAIRED)
def test_without_the_rule_whoever_did_the_repair_releases(people, retest, part):
    change_site(machine_of(retest).site, by=people["nobody"], at=LATER, two_after_repair=False)
    release_machine(machine_of(retest), retest=retest, reason="Renewed", by=people[part], at=LATER)
    assert machine_of(retest).status == "in service"


def test_the_page_says_it_and_the_second_person_is_told_what_was_closed(client, people, retest):
    address = f"/machines/{retest.machine_id}/release/"
    client.force_login(people["reader"])
    assert f"You entered readings of {retest}" in client.get(address).text
    assert send(client, address, decision(), retest=retest).status_code == 302
    proposal = Proposal.objects.get()
    page = client.get(proposal.get_absolute_url()).text
    assert "It closes:" in page and "Covered by this retest: 2 steps" in page and "Untested on this machine:" in page
    for part in ("signer", "nobody"):
        client.force_login(people[part])
        page = client.post(proposal.get_absolute_url(), {"confirm": "1", "password": PASSWORD}, follow=True)
        assert ("did part of the repair too" in page.text) == (part == "signer")
    assert f"Closed: “{Finding.objects.closed().get()}”" in page.text and "back in service" in page.text
