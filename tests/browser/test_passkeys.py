"""Passkeys in a real browser with a virtual device: registering one, then signing and releasing with it."""

import json
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from fleet.actions import withdraw_machine
from fleet.models import Machine, Passkey
from inspections.models import Finding, Inspection
from tests.factories import NOON, PASSWORD
from tests.inspections.scenes import FAILING, make_scene

INTERNAL = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
    "isUserVerified": True, "automaticPresenceSimulation": True,
}  # fmt: skip


@pytest.fixture
def local(live_server):
    """The address of the server by the name that passkeys belong to; an IP address has none."""
    return live_server.url.replace("127.0.0.1", "localhost")


@contextmanager
def device(page, **changed):
    """A virtual device of the browser, which verifies its user unless it is told otherwise."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    made = session.send("WebAuthn.addVirtualAuthenticator", {"options": INTERNAL | changed})
    yield lambda is_verified: session.send(
        "WebAuthn.setUserVerified", {"authenticatorId": made["authenticatorId"], "isUserVerified": is_verified}
    )
    session.send("WebAuthn.disable")


def sign_in(page, local, person):
    page.context.clear_cookies()
    page.goto(f"{local}/login/")
    page.get_by_label("Username").fill(person.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{local}/")


def register(page, local, name):
    page.goto(f"{local}/passkeys/")
    page.get_by_role("link", name="Register a passkey").click()
    page.get_by_label("Name").fill(name)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Register this device").click()
    expect(page.get_by_text(f"The passkey “{name}” is registered")).to_be_visible()


def test_a_person_registers_a_device_signs_with_it_and_releases_a_machine(browser_page, local, screenshot, tmp_path):
    scene = make_scene(tmp_path)
    scene.complete(FAILING)
    sign_in(browser_page, local, scene.technician)
    with device(browser_page) as verifies:
        register(browser_page, local, "Tablet of workshop 2")
        screenshot("passkeys")
        browser_page.goto(f"{local}/inspections/{scene.inspection.pk}/sign/")
        screenshot("sign-with-passkey")
        verifies(False)
        browser_page.get_by_role("button", name="Use a passkey").click()
        expect(browser_page.get_by_text("The passkey was not used: it was cancelled")).to_be_visible()
        verifies(True)
        browser_page.get_by_role("button", name="Use a passkey").click()
        expect(browser_page.get_by_role("heading", name="What comes next")).to_be_visible()
        screenshot("signed-what-comes-next")
        signed = Inspection.objects.get(pk=scene.inspection.pk)
        assert json.loads(signed.record.content)["signed_with"] == "passkey"
        release_with_passkey(browser_page, local, scene, screenshot)
        browser_page.goto(f"{local}/passkeys/")
        browser_page.get_by_role("link", name="Remove Tablet of workshop 2").click()
        browser_page.get_by_role("button", name="Remove this passkey").click()
        expect(browser_page.get_by_text("What was signed with it stays signed")).to_be_visible()
    assert not Passkey.objects.exists()


def release_with_passkey(page, local, scene, screenshot):
    """Withdraw and retest the machine; the signer may release it at this site."""
    machine = Machine.objects.get(pk=scene.machine.pk)
    type(machine.site).objects.update(signer_may_release=True)
    withdraw_machine(machine, by=scene.other, at=timezone.now(), reason="Trips too late")
    scene.again(at=NOON)
    scene.inspection.retests.set(Finding.objects.all())
    scene.complete()
    retest = scene.sign(at=timezone.now() + timedelta(seconds=1))
    page.goto(f"{local}/inspections/{retest.pk}/")
    page.get_by_role("link", name=f"Release machine {machine}").click()
    screenshot("release")
    page.get_by_label("Reason").fill("Spring renewed and tested")
    # With the password left empty, pressing the button of the form asks for the passkey.
    page.get_by_role("button", name=f"Return machine {machine} to service").click()
    expect(page.get_by_text("is back in service, based on")).to_be_visible()
    machine.refresh_from_db()
    assert machine.status == "in service" and Passkey.objects.get().sign_count > 1


def test_without_a_passkey_the_form_is_as_it_was(browser_page, local, tmp_path):
    scene = make_scene(tmp_path)
    scene.complete()
    sign_in(browser_page, local, scene.technician)
    browser_page.goto(f"{local}/inspections/{scene.inspection.pk}/sign/")
    expect(browser_page.get_by_role("button", name="Use a passkey")).to_have_count(0)
    browser_page.get_by_label("Your password").fill(PASSWORD)
    browser_page.get_by_role("button", name="Sign").click()
    expect(browser_page.get_by_role("heading", name="What comes next")).to_be_visible()
