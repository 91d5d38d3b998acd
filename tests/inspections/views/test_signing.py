from datetime import timedelta

import pytest
from django.urls import reverse

from inspections.actions import amend_inspection
from inspections.models import Amendment, Inspection
from tests.decisions import send
from tests.factories import NOON, PASSWORD, make_person, make_site
from tests.inspections.scenes import FAILING


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON + timedelta(hours=1), tick=False)


@pytest.fixture
def technician(scene, client):
    client.force_login(scene.technician)
    return client


def address(scene, name):
    return reverse(f"inspections:{name}", args=[scene.inspection.pk])


def stage(scene):
    return Inspection.objects.get(pk=scene.inspection.pk).stage


class TestSign:
    def test_shows_what_is_signed_for(self, technician, scene):
        scene.complete()
        page = technician.get(address(scene, "sign"))
        assert "Trip pressure" in page.text
        assert "No flowmeter of that range today." in page.text
        assert "Short inspection, version 1" in page.text
        assert 'name="password"' in page.text

    def test_names_what_is_missing_and_does_not_ask_for_the_password_yet(self, technician, scene):
        scene.sweep()
        page = technician.get(address(scene, "sign"))
        assert "Oxygen supply alarm: still needed" in page.text
        assert 'name="password"' not in page.text

    def test_announces_what_follows_from_a_failed_essential_result(self, technician, scene):
        scene.complete(FAILING)
        page = technician.get(address(scene, "sign"))
        assert "An essential result failed" in page.text
        assert f"proposes to withdraw machine {scene.machine}" in page.text

    def test_signs_with_the_password_and_shows_the_record(self, technician, scene):
        scene.complete()
        page = send(technician, address(scene, "sign"), {"password": PASSWORD}, follow=True)
        assert stage(scene) == "signed"
        assert page.redirect_chain == [(scene.inspection.get_absolute_url(), 302)]
        assert "is signed. Its readings are now locked" in page.text

    def test_guessing_at_a_tablet_left_signed_in_locks_the_account(self, technician, scene):
        scene.complete()
        answers = [send(technician, address(scene, "sign"), {"password": "guess"}).status_code for _ in range(5)]
        assert answers == [422, 422, 422, 422, 429]
        assert send(technician, address(scene, "sign"), {"password": PASSWORD}).status_code == 429
        assert stage(scene) == "on bench"

    @pytest.mark.parametrize("password", ["wrong", "", f" {PASSWORD}"])
    def test_with_a_wrong_password_signs_nothing(self, technician, scene, password):
        scene.complete()
        page = send(technician, address(scene, "sign"), {"password": password})
        assert (page.status_code, stage(scene)) == (422, "on bench")

    def test_with_something_missing_signs_nothing_and_says_what(self, technician, scene):
        scene.sweep()
        page = send(technician, address(scene, "sign"), {"password": PASSWORD})
        assert (page.status_code, stage(scene)) == (422, "on bench")
        assert "Oxygen flush: still needed" in page.text

    def test_a_second_time_leads_to_the_record(self, technician, scene):
        scene.complete()
        scene.sign()
        page = send(technician, address(scene, "sign"), {"password": PASSWORD}, follow=True)
        assert "only an inspection in progress can be signed" in page.text

    @pytest.mark.parametrize("group", ["planner", "manager", "auditor"])
    def test_is_for_technicians(self, client, scene, group):
        scene.complete()
        client.force_login(make_person(group))
        assert client.post(address(scene, "sign"), {"password": PASSWORD}).status_code == 403
        assert stage(scene) == "on bench"

    def test_at_another_site_is_not_found(self, client, scene):
        scene.complete()
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.post(address(scene, "sign"), {"password": PASSWORD}).status_code == 404

    def test_accepts_no_other_method(self, technician, scene):
        assert technician.put(address(scene, "sign")).status_code == 405


class TestCountersign:
    def test_by_another_person_with_the_password(self, client, scene):
        scene.complete()
        scene.sign()
        client.force_login(scene.other)
        assert "have read the record" in client.get(address(scene, "countersign")).text
        send(client, address(scene, "countersign"), {"password": PASSWORD})
        assert stage(scene) == "countersigned"

    def test_guessing_locks_the_account(self, client, scene):
        scene.complete()
        scene.sign(at=NOON)
        client.force_login(scene.other)
        answers = [send(client, address(scene, "countersign"), {"password": "guess"}).status_code for _ in range(5)]
        assert answers[-1] == 429
        assert client.post(address(scene, "countersign"), {"password": PASSWORD}).status_code == 429
        assert stage(scene) == "signed"

    def test_with_a_wrong_password_is_refused(self, client, scene):
        scene.complete()
        scene.sign()
        client.force_login(scene.other)
        assert send(client, address(scene, "countersign"), {"password": "wrong"}).status_code == 422
        assert stage(scene) == "signed"

    def test_by_the_signer_is_refused(self, technician, scene):
        scene.complete()
        scene.sign()
        page = send(technician, address(scene, "countersign"), {"password": PASSWORD}, follow=True)
        assert "Another person must countersign" in page.text
        assert stage(scene) == "signed"

    def test_before_signing_is_refused(self, client, scene):
        client.force_login(scene.other)
        page = client.post(address(scene, "countersign"), {"password": PASSWORD}, follow=True)
        assert "only a signed inspection can be countersigned" in page.text

    def test_without_permission_or_at_another_site(self, client, scene):
        scene.complete()
        scene.sign()
        client.force_login(make_person("auditor"))
        assert client.post(address(scene, "countersign"), {"password": PASSWORD}).status_code == 403
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.post(address(scene, "countersign"), {"password": PASSWORD}).status_code == 404
        assert client.put(address(scene, "countersign")).status_code == 405


class TestAmend:
    def test_adds_a_correction_beside_the_record(self, technician, scene):
        scene.complete()
        scene.sign()
        data = {
            "step": scene.step().pk,
            "correction": "50 psi should read 51 psi.",
            "reason": "Misread gauge.",
            "password": PASSWORD,
        }
        page = send(technician, address(scene, "amend"), data, follow=True)
        assert "50 psi should read 51 psi." in page.text and "Misread gauge." in page.text
        assert Amendment.objects.get().step == scene.step()

    @pytest.mark.parametrize("data", [{"correction": "a"}, {"reason": "b"}, {"correction": " ", "reason": "b"}])
    def test_without_correction_or_reason_is_refused(self, technician, scene, data):
        scene.complete()
        scene.sign()
        data = {**data, "password": PASSWORD}
        assert send(technician, address(scene, "amend"), data).status_code == 422
        assert not Amendment.objects.exists()

    def test_of_an_unsigned_inspection_is_refused(self, technician, scene):
        page = send(technician, address(scene, "amend"), {"correction": "a", "reason": "b"}, follow=True)
        assert "only a signed record can be amended" in page.text

    def test_takes_no_step_of_another_inspection(self, technician, scene):
        foreign = scene.step().pk
        scene.again(at=NOON)
        scene.complete()
        scene.sign()
        data = {"step": foreign, "correction": "a", "reason": "b", "password": PASSWORD}
        assert send(technician, address(scene, "amend"), data).status_code == 422

    def test_without_permission_or_at_another_site(self, client, scene):
        scene.complete()
        scene.sign()
        client.force_login(make_person("planner"))
        assert client.post(address(scene, "amend"), {"correction": "a", "reason": "b"}).status_code == 403
        client.force_login(make_person("technician", sites=[make_site()]))
        assert client.post(address(scene, "amend"), {"correction": "a", "reason": "b"}).status_code == 404


def test_the_record_is_unchanged_by_an_amendment(scene):
    scene.complete()
    content = scene.sign().record.content
    amend_inspection(scene.inspection, correction="a", reason="b", by=scene.technician, at=NOON)
    assert Inspection.objects.get(pk=scene.inspection.pk).record.content == content
