"""The bench in a real browser: what was acknowledged is saved, what was not is marked and sent again."""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inspections.models import Reading
from tests.factories import NOON
from tests.inspections.scenes import enter, make_scene
from tests.services.browser import TABLET, intercept, until

SWEEP = ("50", "4", "45", "4", "35", "4", "26", "3.6", "24", "0.4", "20", "0")  # psi and L/min, as typed


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The page of the supply failure step on a tablet, and its scene."""
    scene = make_scene(tmp_path, at=NOON)
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def standing():
    return {reading.slot: str(reading) for reading in Reading.objects.current()}


def test_enter_keeps_the_reading_and_moves_on_and_a_reload_shows_it_again(bench):
    page, _ = bench
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("50")
    page.get_by_label("Oxygen pressure at the start", exact=True).press("Enter")
    expect(page.get_by_label("Flow of the other gas at the start", exact=True)).to_be_focused()
    expect(page.locator("#kept-full_pressure")).to_contain_text("saved")
    assert standing() == {("full_pressure", 0, ""): "50 psi"}
    page.reload()
    expect(page.get_by_label("Oxygen pressure at the start", exact=True)).to_have_value("50")


def test_the_live_panel_follows_a_sweep_typed_by_keyboard_alone(bench):
    page, scene = bench
    scene.rise()
    page.get_by_label("Oxygen pressure at the start", exact=True).focus()
    for text in SWEEP:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(page.locator("#live")).to_contain_text("Trip pressure")
    expect(page.locator("#live .live-word")).to_contain_text("pass")
    expect(page.locator("#live svg").first).to_be_visible()
    expect(page.locator(".steps [aria-current]")).to_contain_text("pass")


def test_an_answer_that_comes_late_does_not_cover_what_later_readings_mean(bench):
    """The answer to the flow at 24 psi is held back until that to the last has come."""
    page, scene = bench
    scene.rise()
    held, before = [], Reading.objects.count()

    def hold(route):
        if "slot=falling.3.flow" in route.request.post_data:
            held.append((route, route.fetch()))
        else:
            route.continue_()

    intercept(page, "**/reading/", hold)
    page.get_by_label("Oxygen pressure at the start", exact=True).focus()
    for number, text in enumerate(SWEEP, start=1):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        until(page, lambda number=number: Reading.objects.count() == before + number)
    until(page, lambda: held)
    expect(page.locator("#live .live-word")).to_contain_text("pass")
    route, response = held.pop()
    route.fulfill(response=response)
    expect(page.locator("#kept-falling-3-flow")).to_contain_text("saved")
    expect(page.locator("#live .live-word")).to_contain_text("pass")
    expect(page.locator("#live-bar")).to_contain_text("pass")
    expect(page.locator(".steps [aria-current]")).to_contain_text("pass")


def test_a_filled_last_row_brings_a_new_one_that_keeps_readings_too(bench):
    page, _ = bench
    page.get_by_label("Oxygen pressure, row 8").first.fill("20")
    page.get_by_label("Oxygen pressure, row 8").first.press("Tab")
    page.get_by_label("Oxygen pressure, row 9").first.fill("18")
    page.get_by_label("Oxygen pressure, row 9").first.press("Tab")
    expect(page.locator("#kept-falling-8-pressure")).to_contain_text("psi")
    assert standing()["falling", 8, "pressure"] == "18 psi"


def test_a_lost_connection_is_said_and_the_reading_sent_again_when_it_is_back(bench):
    page, _ = bench
    page.context.set_offline(True)
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("50")
    page.get_by_label("Oxygen pressure at the start", exact=True).press("Enter")
    expect(page.locator("#kept-full_pressure")).to_have_text("not saved, will be sent again")
    page.get_by_role("button", name="Next:").click()
    expect(page.locator("#said")).to_have_text("Not everything is saved yet. It is sent again until it is.")
    expect(page.get_by_label("Oxygen pressure at the start", exact=True)).to_have_value("50")
    assert standing() == {}
    page.context.set_offline(False)
    expect(page.locator("#kept-full_pressure")).to_contain_text("saved ")
    expect(page.locator("#kept-full_pressure")).not_to_contain_text("not saved")
    assert standing() == {("full_pressure", 0, ""): "50 psi"}


def test_a_session_that_ended_is_said_and_nothing_of_the_login_page_gets_on_the_bench(bench):
    page, _ = bench
    page.context.clear_cookies(name="sessionid")
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("50")
    page.get_by_label("Oxygen pressure at the start", exact=True).press("Tab")
    expect(page.locator("#kept-full_pressure")).to_contain_text("you are signed out")
    expect(page.get_by_label("Username")).to_have_count(0)
    assert standing() == {}


def test_leaving_by_a_link_waits_for_the_reading_on_its_way(bench):
    page, scene = bench
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("50")
    page.locator(".steps a").nth(1).click()
    page.wait_for_url(f"**{scene.step('alarm').get_absolute_url()}")
    assert standing() == {("full_pressure", 0, ""): "50 psi"}


def test_a_reading_after_somebody_signed_is_told_as_locked(bench):
    page, scene = bench
    scene.complete()
    scene.sign()
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("49")
    page.get_by_label("Oxygen pressure at the start", exact=True).press("Tab")
    expect(page.locator("#live")).to_contain_text("its readings are locked")
    expect(page.locator("#kept-full_pressure")).to_have_text("not saved")


def test_a_place_that_somebody_else_filled_shows_both_and_the_choice_stands(bench, screenshot):
    """Rui entered 52 psi while Ana's page showed the place empty."""
    page, scene = bench
    rui = {"unit": "psi", "by": scene.other, "at": timezone.now()}
    enter(scene.step(), "full_pressure", as_read="52", **rui)
    field = page.get_by_label("Oxygen pressure at the start", exact=True)
    field.fill("50")
    field.press("Enter")
    expect(page.locator("#told-full_pressure")).to_contain_text("Rui Serra entered 52 psi")
    expect(page.locator("#kept-full_pressure")).to_contain_text("two readings, choose one")
    expect(field).to_have_value("52")
    page.evaluate("htmx.trigger('#others', 'look')")
    expect(page.locator("#others")).to_contain_text("Also working on this inspection: Rui Serra")
    screenshot("bench-contested")
    page.get_by_role("button", name="Use 50 psi").click()
    expect(page.locator("#told-full_pressure")).to_be_hidden()
    expect(field).to_have_value("50")
    assert standing()["full_pressure", 0, ""] == "50 psi"


def test_what_is_typed_on_while_the_answer_comes_is_not_swept_away(bench):
    page, scene = bench
    enter(scene.step(), "full_pressure", as_read="52", unit="psi", by=scene.other, at=timezone.now())
    held = []
    intercept(page, "**/reading/", lambda route: held.append(route))
    field = page.get_by_label("Oxygen pressure at the start", exact=True)
    field.fill("50")
    field.press("Tab")
    field.fill("51")
    until(page, lambda: held)
    page.unroute("**/reading/")
    held.pop().continue_()
    expect(page.locator("#told-full_pressure")).to_contain_text("Rui Serra entered 52 psi")
    expect(field).to_have_value("51")
    field.press("Tab")
    expect(page.locator("#told-full_pressure")).to_contain_text("51 psi")
    assert standing() == {("full_pressure", 0, ""): "52 psi"}


def test_every_target_on_the_tablet_is_44_pixels_or_more(bench):
    """WCAG 2.2, 2.5.5 Target Size (Enhanced): 44 by 44 CSS pixels."""
    page, scene = bench
    for code in ("supply-failure", "alarm", "flush"):
        page.goto(scene.step(code).get_absolute_url())
        small = page.evaluate(
            """() => [...document.querySelectorAll(
                 ".bench input:not([type=radio], [type=hidden]), .bench select, "
                 + ".bench button:not(.vh[aria-hidden=true][tabindex='-1']), .bench .choices label")]
               .filter((node) => node.getClientRects().length && node.getBoundingClientRect().height < 44)
               .map((node) => node.outerHTML)"""
        )
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]
