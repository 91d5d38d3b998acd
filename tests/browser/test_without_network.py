"""The bench without a network: what is typed waits on the device, is shown there, and is sent once, in order."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass

import pytest
from django.conf import settings as django_settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from inspections.models import NotTestedMark, Reading
from tests.factories import NOON
from tests.inspections.scenes import enter, make_scene
from tests.services.bobbin import ROOT
from tests.services.browser import watched_page
from tests.services.cable import CUT, DEAF, THROUGH, Cable
from tests.services.programs import PATIENCE_S
from tests.services.tablet import Typed
from tests.without_network.run import troubles, troubles_of_notes

START, SET_FLOW = "Oxygen pressure at the start", "Flow of the other gas at the start"
STORED = "async (person) => (await bobbinStore.pagesOf(person)).map((page) => page.path)"


@dataclass
class Bench:
    """A tablet at the bench of a scene, on a cable."""

    page: object
    cable: Cable
    scene: object

    def sign_in(self, person):
        client = Client()
        client.force_login(person)
        cookie = client.cookies[django_settings.SESSION_COOKIE_NAME]
        self.page.context.add_cookies(
            [{"name": cookie.key, "value": cookie.value, "url": self.cable.address, "httpOnly": True}]
        )

    def open(self, path=None):
        """Open a page as the server has it now: where that takes seconds, the device first shows what it stored."""
        asked_at = 1000 * time.time()
        self.page.goto(path or self.scene.step_url)
        while int(self.head.get_attribute("data-time")) < asked_at:
            self.page.goto(path or self.scene.step_url)
        self.until(lambda: self.page.evaluate("navigator.serviceWorker.controller !== null"))

    def store(self):
        """Open the bench and wait until every step is on the device."""
        self.open()
        wanted = {step.get_absolute_url() for step in self.scene.inspection.steps.that_apply()} | {"/device/"}
        person = self.page.locator("#device").get_attribute("data-person")
        self.until(lambda: wanted <= set(self.page.evaluate(STORED, person)))

    def until(self, is_so, seconds=PATIENCE_S):
        end = time.monotonic() + seconds
        while not is_so():
            assert time.monotonic() < end, "it did not come about"
            self.page.wait_for_timeout(50)

    def type(self, label, text):
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        field.press("Tab")

    def kept(self, place):
        return self.page.locator(f"#kept-{place}")

    @property
    def head(self):
        return self.page.locator("#device")

    def reconnect(self):
        self.cable.set(THROUGH)
        self.page.evaluate("dispatchEvent(new Event('online'))")


@pytest.fixture
def bench(browser, live_server, tmp_path, transactional_db):
    cable = Cable(int(live_server.url.rpartition(":")[2]))
    with watched_page(browser, cable.address, service_workers="allow") as page:
        bench = Bench(page, cable, make_scene(tmp_path, at=NOON))
        bench.sign_in(bench.scene.technician)
        yield bench
    cable.close()


def saved():
    return [(reading.field, reading.as_read, reading.entered_by.username) for reading in Reading.objects.order_by("pk")]


def test_what_is_typed_without_a_network_is_shown_on_every_page_and_sent_once_in_order(bench, screenshot_of):
    page, ana = bench.page, bench.scene.technician.username
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "50")
    expect(bench.kept("full_pressure")).to_contain_text("on this device, not sent yet")
    bench.type(START, "51")
    bench.type(SET_FLOW, "4")
    expect(page.locator("#live")).to_contain_text("Not judged yet: 3 readings wait on this device")
    expect(bench.head).to_have_text("3 entries wait on this device")
    screenshot_of(page, "without-network-bench")
    page.locator(".steps a").nth(2).click()
    page.wait_for_url(f"**{bench.scene.step('flush').get_absolute_url()}")
    expect(page.locator(".steps a").first).to_contain_text("3 on this device")
    fresh = page.context.new_page()
    fresh.goto(bench.scene.step_url)  # as after the tablet was started again
    page.close()
    bench.page = page = fresh
    expect(page.get_by_label(START, exact=True)).to_have_value("51")
    expect(page.get_by_label(SET_FLOW, exact=True)).to_have_value("4")
    assert saved() == []
    bench.reconnect()
    expect(bench.head).to_be_hidden()
    assert saved() == [("full_pressure", "50", ana), ("full_pressure", "51", ana), ("set_flow", "4", ana)]
    assert not Reading.objects.contested().exists()
    expect(page.locator("#live")).not_to_contain_text("Not judged yet")
    expect(bench.kept("full_pressure")).to_contain_text("saved")


def test_signing_and_other_pages_say_that_they_need_the_network_and_what_works_without(bench, screenshot_of):
    page = bench.page
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "51")
    expect(bench.head).to_have_text("1 entry waits on this device")
    page.goto(reverse("inspections:sign", args=[bench.scene.inspection.pk]))
    expect(page.get_by_text("Signing needs the network.")).to_be_visible()
    expect(page.get_by_role("cell", name="51 psi")).to_be_visible()
    screenshot_of(page, "without-network-device")
    page.goto("/machines/")
    expect(page.get_by_text("This page needs the network.")).to_be_visible()
    page.get_by_role("link", name="Oxygen flush").click()
    page.wait_for_url(f"**{bench.scene.step('flush').get_absolute_url()}")
    page.goto(reverse("inspections:bench", args=[bench.scene.inspection.pk]))
    expect(page.get_by_label(START, exact=True)).to_have_value("51")


def test_an_answer_that_is_lost_on_the_way_stores_the_reading_once(bench):
    bench.store()
    bench.type(SET_FLOW, "4")
    expect(bench.kept("set_flow")).to_contain_text("saved")
    bench.cable.set(DEAF)
    bench.type(START, "50")
    bench.until(lambda: len(saved()) == 2)
    expect(bench.kept("full_pressure")).to_contain_text("on this device, not sent yet")
    bench.reconnect()
    expect(bench.head).to_be_hidden()
    expect(bench.kept("full_pressure")).to_contain_text("saved")
    bench.type(START, "52")
    bench.until(lambda: len(saved()) == 3)
    expect(bench.kept("full_pressure")).to_contain_text("saved")
    assert [text for place, text, _ in saved() if place == "full_pressure"] == ["50", "52"]
    assert not Reading.objects.contested().exists()


def test_a_reading_that_a_colleague_entered_meanwhile_is_contested_as_with_a_network(bench):
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "50")
    expect(bench.head).to_have_text("1 entry waits on this device")
    enter(bench.scene.step(), "full_pressure", as_read="52", unit="psi", by=bench.scene.other, at=NOON)
    bench.reconnect()
    expect(bench.head).to_be_hidden()
    assert [str(reading) for reading in Reading.objects.current()] == ["52 psi"]
    bench.open()
    expect(bench.page.locator("#told-full_pressure")).to_contain_text("Rui Serra entered 52 psi")
    expect(bench.page.get_by_role("button", name="Use 50 psi")).to_be_visible()


def test_another_person_on_the_tablet_neither_sees_nor_sends_what_waits(bench):
    page, scene = bench.page, bench.scene
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "50")
    expect(bench.head).to_have_text("1 entry waits on this device")
    page.context.clear_cookies(name="sessionid")
    bench.sign_in(scene.other)  # before anything can be sent
    bench.cable.set(THROUGH)
    bench.open("/device/")
    expect(page.get_by_text("Nothing waits on this device.")).to_be_visible()
    expect(bench.head).to_be_hidden()
    bench.open()
    expect(page.get_by_label(START, exact=True)).to_have_value("")
    bench.type(SET_FLOW, "4")
    expect(bench.kept("set_flow")).to_contain_text("saved")
    page.wait_for_timeout(300)
    assert saved() == [("set_flow", "4", scene.other.username)]
    page.context.clear_cookies(name="sessionid")
    bench.sign_in(scene.technician)
    bench.open("/device/")
    bench.until(lambda: len(saved()) == 2)
    assert saved()[1] == ("full_pressure", "50", scene.technician.username)


def test_signing_out_says_what_waits_and_takes_the_stored_pages_away(bench, screenshot_of):
    page, scene = bench.page, bench.scene
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "50")
    expect(bench.head).to_have_text("1 entry waits on this device")
    page.locator("details.person summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_text("1 entry waits on this device. It stays here")).to_be_visible()
    screenshot_of(page, "without-network-sign-out")
    page.context.clear_cookies(name="sessionid")  # so that it is not sent before the session ends
    bench.cable.set(THROUGH)
    page.get_by_role("button", name="Sign out all the same").click()
    page.wait_for_url("**/logout/")
    bench.cable.set(CUT)
    bench.until(lambda: not any(name.startswith("bobbin-pages-") for name in page.evaluate("caches.keys()")))
    page.goto("about:blank")
    with pytest.raises(Exception, match="ERR_|chrome-error"):
        page.goto(scene.step_url)
    bench.until(lambda: page.url.startswith("chrome-error"))  # the page of the error arrives after the error
    assert saved() == []
    bench.cable.set(THROUGH)
    bench.sign_in(scene.technician)
    bench.open()
    bench.until(lambda: len(saved()) == 1)


def test_a_session_that_ends_meanwhile_loses_nothing(bench):
    page = bench.page
    bench.store()
    page.context.clear_cookies(name="sessionid")
    bench.type(START, "50")
    expect(bench.kept("full_pressure")).to_contain_text("on this device, not sent yet")
    expect(bench.head).to_have_text("1 entry waits on this device: sign in again to send")
    bench.sign_in(bench.scene.technician)
    bench.reconnect()
    expect(bench.head).to_be_hidden()
    assert len(saved()) == 1


def test_a_step_that_is_not_tested_is_marked_without_a_network(bench):
    page = bench.page
    bench.store()
    bench.cable.set(CUT)
    page.locator("#not-tested > summary").click()
    page.get_by_label("Why is this step not tested?").fill("No nitrous oxide today")
    page.get_by_role("button", name="Mark as not tested").click()
    expect(bench.head).to_have_text("1 entry waits on this device")
    page.goto(bench.scene.step_url)
    expect(page.locator("#device-step")).to_contain_text("No nitrous oxide today")
    bench.reconnect()
    expect(bench.head).to_be_hidden()
    assert [mark.reason for mark in NotTestedMark.objects.all()] == ["No nitrous oxide today"]


WITH_A_FILE = """async ([path, person]) => {
    const form = new FormData();
    form.set('reason', 'Gauge broken');
    form.set('photograph', new Blob([new Uint8Array(100000)], { type: 'image/jpeg' }), 'gauge.jpg');
    const headers = { 'Bench-Request': 'yes', 'Bobbin-Person': person };
    return (await fetch(path, { method: 'POST', body: form, headers })).headers.get('Bench-Answer');
}"""
SIZES = """async () => (await bobbinStore.read('outbox', (rows) => rows.getAll()))
    .flatMap((one) => one.fields.filter(([, value]) => value instanceof Blob).map(([, value]) => value.size))"""


def test_a_change_with_a_file_waits_whole_and_its_file_leaves_the_device_with_it(bench):
    bench.store()
    bench.cable.set(CUT)
    arguments = [bench.scene.url("not_tested"), bench.head.get_attribute("data-person")]
    assert bench.page.evaluate(WITH_A_FILE, arguments) == "waiting"
    assert bench.page.evaluate(SIZES) == [100_000]
    bench.reconnect()
    bench.until(lambda: NotTestedMark.objects.filter(reason="Gauge broken").exists())
    bench.until(lambda: bench.page.evaluate(SIZES) == [])


LOOKED_AGAIN = "async () => { await bobbinDevice.refresh(); await bobbinStore.pagesOf(bobbinDevice.person); }"


@pytest.mark.parametrize("fate", ["signed", "deleted"])
def test_what_can_no_longer_be_stored_stays_to_be_copied_or_discarded_by_its_owner(bench, fate, screenshot_of):
    page, scene = bench.page, bench.scene
    bench.store()
    bench.cable.set(CUT)
    bench.type(START, "49")
    expect(bench.head).to_have_text("1 entry waits on this device")
    if fate == "signed":
        scene.complete()
        scene.sign()
    else:
        scene.inspection.delete()
    bench.reconnect()
    expect(bench.head).to_have_text("1 could not be sent")
    page.goto("/device/")
    row = page.locator("[data-part=failed] tbody tr")
    expect(row).to_contain_text("49 psi")
    expect(row).to_contain_text(f"machine {scene.machine}")
    expect(row).to_contain_text("its readings are locked" if fate == "signed" else "the inspection was deleted")
    screenshot_of(page, f"without-network-{fate}")
    row.get_by_role("button", name="Discard").click()
    expect(row).to_be_visible()
    page.evaluate(LOOKED_AGAIN)  # as after each attempt to send
    expect(row.get_by_role("button", name="Discard it for good")).to_be_focused()
    row.get_by_role("button", name="Discard it for good").click()
    expect(page.get_by_text("Nothing waits on this device.")).to_be_visible()
    expect(bench.head).to_be_hidden()


@pytest.fixture
def screenshot_of():
    """screenshot_of(page, name): save the page at the width it has."""
    from tests.services.browser import SCREENSHOTS, TABLET

    def screenshot_of(page, name):
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        page.set_viewport_size(TABLET)
        page.screenshot(path=SCREENSHOTS / f"{name}.png", full_page=True)

    return screenshot_of


def test_rounds_of_failures_lose_and_double_nothing(browser):
    """The fixture skips it by name where Chromium is missing; the run starts its own."""
    command = [sys.executable, "-m", "tests.without_network", "--rounds", "6", "--seed", "3"]
    done = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, timeout=2400)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "lost or doubled: none" in done.stdout and " 0 values" not in done.stdout


def test_the_rounds_would_notice_a_value_that_is_lost_stored_twice_or_out_of_order():
    one, two = (Typed("a", 7, 1, "set_flow", text, True) for text in ("10.1", "10.2"))
    unsure = Typed("a", 7, 1, "set_flow", "10.3", False)
    row, other = (1, "set_flow", "10.1", 7), (1, "set_flow", "10.2", 7)
    assert troubles([one, two, unsure], [row, other], []) == []
    assert troubles([one, two], [row], [("set_flow", "10.2")]) == []
    assert [text.split(":")[0] for text in troubles([one, two], [other], [])] == ["lost"]
    assert [text.split(":")[0] for text in troubles([one], [row, row], [])] == ["stored 2 times"]
    assert [text.split(":")[0] for text in troubles([one, two], [other, row], [])] == ["stored before an earlier one"]
    remark, photograph = (Typed("a", 7, 1, place, "10.4", True) for place in ("remark", "photograph"))
    assert troubles_of_notes([remark, photograph], ["now", "10.4 before"], ["10.4"], []) == []
    assert troubles_of_notes([remark, photograph], [], [], ["10.4"]) == []
    said = troubles_of_notes([remark, photograph], ["now"], ["10.4", "10.4"], [])
    assert [text.split(":")[0] for text in said] == ["lost", "stored 2 times"]
    late = (1, "set_flow", "10.3", 7)  # nothing was said about it, so that it may have been on its way for long
    assert troubles([unsure, one, two], [row, other, late], []) == []
