"""What a class of procedures may leave open: proposed by a manager, confirmed by another person, frozen by dossiers."""

from dataclasses import replace

import pytest
from django.urls import reverse

from inspections.actions import set_evidence_policy
from inspections.errors import Refused, SecondPersonNeeded
from inspections.models import EvidencePolicy, Proposal
from inspections.planning.interval_evidence import POLICIES
from inspections.proposals import SettingPolicy, confirm_proposal, decide
from inspections.schedule.evidence_policies import policies_in_force
from tests.factories import NOON, make_person
from tests.inspections.dossier_scene import make_dossier, make_fleet

ASKED = {"most_share": 0.03, "confidence": 0.9, "source": "Committee 4, 2026-10-12"}
PASSWORD = "secret-pass-phrase"


@pytest.fixture
def manager(db):
    person = make_person("manager")
    person.set_password(PASSWORD)
    person.save(update_fields=["password"])
    return person


def in_force(manager, code="essential", **fields):
    proposal = decide(SettingPolicy(code, **ASKED | fields), reason="Larger fleet", by=manager, at=NOON)
    confirm_proposal(proposal, by=make_person("planner"), at=NOON)
    return EvidencePolicy.objects.first()


def test_the_shipped_policy_counts_until_two_persons_set_another(manager):
    assert policies_in_force() == POLICIES
    proposal = decide(SettingPolicy("essential", **ASKED), reason="Larger fleet", by=manager, at=NOON)
    assert policies_in_force() == POLICIES
    with pytest.raises(Refused, match="yourself"):
        confirm_proposal(proposal, by=manager, at=NOON)
    other = make_person("planner")
    confirm_proposal(proposal, by=other, at=NOON)
    assert policies_in_force() == POLICIES | {"essential": replace(POLICIES["essential"], **ASKED)}
    stored = EvidencePolicy.objects.get()
    assert (stored.proposed_by, stored.by) == (manager, other) and "Larger fleet" in stored.reason


def test_nobody_sets_it_alone(manager):
    with pytest.raises(SecondPersonNeeded):
        set_evidence_policy("essential", **ASKED, reason="Alone", by=manager, at=NOON)
    with pytest.raises(SecondPersonNeeded):
        set_evidence_policy("essential", **ASKED, reason="Alone", by=manager, proposed_by=manager, at=NOON)
    assert not EvidencePolicy.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [({"most_share": 0.0}, "more than 0 %"), ({"most_share": 0.5}, "less than 50 %"), ({"confidence": 0.5}, "80 % or"),
     ({"confidence": 1.0}, "less than 100 %"), ({"source": " - "}, "names its source")],
)  # fmt: skip
def test_what_is_no_policy_is_refused(manager, wrong, said):
    with pytest.raises(Refused, match=said):
        decide(SettingPolicy("essential", **ASKED | wrong), reason="Tried", by=manager, at=NOON)
    assert not Proposal.objects.exists()


def test_the_policy_in_force_is_not_proposed_again(manager):
    in_force(manager)
    with pytest.raises(Refused, match="in force already"):
        decide(SettingPolicy("essential", **ASKED), reason="Again", by=manager, at=NOON)


def test_a_dossier_freezes_the_policy_of_its_day(manager):
    planner = make_person("planner")
    model = make_fleet()
    in_force(manager, most_share=0.025, confidence=0.9)
    dossier = make_dossier(planner, model, said={"most_share": 0.025, "reason": "Nothing was found in years"})
    assert (dossier.most_share, dossier.confidence) == (0.025, 0.9)
    assert dossier.evidence["policy"]["source"] == ASKED["source"]
    in_force(manager, most_share=0.01)
    with pytest.raises(Refused, match="allows 1 %"):
        make_dossier(planner, model, said={"most_share": 0.02, "reason": "Nothing was found in years"})
    dossier.refresh_from_db()
    assert (dossier.most_share, dossier.evidence["policy"]["confidence"]) == (0.025, 0.9)


def test_the_page_shows_it_and_a_manager_proposes(client, manager):
    url = reverse("inspections:evidence_policy", args=["essential"])
    client.force_login(manager)
    page = client.get(url)
    assert "The department has set none" in page.content.decode()
    sent = {
        "most_percent": "3", "confidence_percent": "90", "source": "Committee 4", "reason": "Larger fleet",
        "password": PASSWORD, "shown": page.context["shown"],
    }  # fmt: skip
    assert client.post(url, sent | {"most_percent": "70"}).status_code == 422
    answer = client.post(url, sent)
    proposal = Proposal.objects.get()
    assert answer.url == proposal.get_absolute_url()
    assert client.get(answer.url).status_code == 200
    assert "Another policy is proposed" in client.get(url).content.decode()
    confirm_proposal(proposal, by=make_person("planner"), at=NOON)
    shown = client.get(url).content.decode()
    assert "Committee 4" in shown and "The department has set none" not in shown


def test_others_read_it_and_set_nothing(client, manager):
    url = reverse("inspections:evidence_policy", args=["other"])
    client.force_login(make_person("planner"))
    assert client.get(url).context["form"] is None
    assert client.post(url, {"most_percent": "9"}).status_code == 403
    assert client.get(reverse("inspections:evidence_policy", args=["none"])).status_code == 404
