"""Signing, countersigning and releasing with a passkey, and what the records say of it."""

import json
from datetime import timedelta

import pytest
from django.test import Client

from fleet.actions import withdraw_machine
from fleet.models import Machine
from inspections.chain.verification import verify_store
from inspections.models import ChainEntry, Finding, Inspection
from tests.decisions import shown_on
from tests.factories import NOON, PASSWORD
from tests.inspections.scenes import FAILING
from tests.passkeys import give_passkey, options_for, send_with_passkey

LATER = NOON + timedelta(hours=1)


@pytest.fixture
def device(scene):
    return give_passkey(scene.technician)


@pytest.fixture
def technician(scene, client, time_machine):
    time_machine.move_to(LATER, tick=False)
    client.force_login(scene.technician)
    return client


def sign(client, path, device, **data):
    page = client.get(path, HTTP_HOST="localhost")
    assert 'data-passkey="/passkeys/options/"' in page.text and "leave it empty to use your passkey" in page.text
    return send_with_passkey(client, path, {"shown": shown_on(page), **data}, device)


def test_an_inspection_is_signed_and_countersigned_and_the_records_say_how(technician, scene, device):
    scene.complete()
    own = f"/inspections/{scene.inspection.pk}"
    assert sign(technician, f"{own}/sign/", device).status_code == 302
    signed = Inspection.objects.get(pk=scene.inspection.pk)
    assert signed.stage == "signed" and json.loads(signed.record.content)["signed_with"] == "passkey"
    assert "Signed by passkey" in technician.get(f"{own}/").text
    other = Client()
    other.force_login(scene.other)
    assert sign(other, f"{own}/countersign/", give_passkey(scene.other)).status_code == 302
    assert json.loads(ChainEntry.objects.get(kind="countersigned").content)["signed_with"] == "passkey"
    assert not [one for one in verify_store() if one.kind != "time"]  # the clock of the test stands


def test_with_the_password_the_record_says_so_and_an_action_without_either_says_nothing(technician, scene):
    scene.complete()
    address = f"/inspections/{scene.inspection.pk}/sign/"
    technician.post(address, {"shown": shown_on(technician.get(address)), "password": PASSWORD})
    assert json.loads(Inspection.objects.get(pk=scene.inspection.pk).record.content)["signed_with"] == "password"
    scene.again(at=NOON)
    scene.complete()
    assert "signed_with" not in json.loads(scene.sign(at=LATER).record.content)


def test_an_answer_for_one_inspection_signs_no_other_and_none_that_changed(technician, scene, device):
    scene.complete()
    path = f"/inspections/{scene.inspection.pk}/sign/"
    first = {"shown": shown_on(technician.get(path))}
    answer = device.sign(options_for(technician, path, first))
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter)
    now = {"shown": shown_on(technician.get(path))}
    sent = {"password": "", "passkey": answer}
    assert technician.post(path, {**now, **sent}, HTTP_HOST="localhost").status_code == 422
    assert technician.post(path, {**first, **sent}, HTTP_HOST="localhost").status_code == 409
    assert Inspection.objects.get(pk=scene.inspection.pk).stage == "on bench"


def test_a_machine_is_released_and_a_finding_closed(technician, scene):
    scene.complete(FAILING)
    scene.sign(at=NOON)
    machine = Machine.objects.get(pk=scene.machine.pk)
    withdraw_machine(machine, by=scene.other, at=NOON, reason="Trips too late")
    scene.again(at=NOON)
    scene.inspection.retests.set(Finding.objects.all())
    scene.complete()
    retest = scene.sign(at=NOON.replace(minute=30))
    technician.force_login(scene.other)
    device = give_passkey(scene.other)
    data = {"retest": retest.pk, "reason": "Spring renewed"}
    assert sign(technician, f"/machines/{machine.pk}/release/", device, **data).status_code == 302
    machine.refresh_from_db()
    assert machine.status == "in service" and not Finding.objects.open().exists()
