"""The bench by keyboard with late answers: each reading goes where it was meant, and nothing takes the focus."""

import random

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inspections.actions import load_procedures, open_inspection, plan_inspection
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.models import Procedure, Reading
from tests.factories import NOON, make_instrument, make_machine, make_model, make_person
from tests.inspections.scenes import enter, make_scene
from tests.inspections.views.test_bench_checks import procedure
from tests.services.bench_typist import Typist, wrong_places
from tests.services.browser import TABLET, intercept, until

DELAY_MS = 400
BAR_NUMBERS = """() => [...document.querySelectorAll("#live .result svg text")].map(
    (text) => text.getScreenCTM().a * parseFloat(getComputedStyle(text).fontSize))"""
LAYOUT = """async () => {
  await document.fonts.ready;
  const shown = (element) => element.getClientRects().length > 0;
  const box = (element) => element.getBoundingClientRect();
  const targets = [...document.querySelectorAll(".bench input:not([type=radio], [type=hidden]), .bench select, "
    + ".bench button:not(.vh), .bench a.button, .bench summary, .bench .choices label")].filter(shown);
  const fields = document.querySelectorAll("[data-bench] input[inputmode=decimal], [data-bench] .choices:has(.blank), "
    + "[data-check] [role=radiogroup]");
  const field = [...fields].find(shown);
  return {
    small: targets.filter((one) => box(one).height < 48 || box(one).width < 44).map((one) => one.outerHTML),
    next: box(document.querySelector("[data-go=next]")).bottom,
    bar: box(document.querySelector("[data-bar]")).top,
    field: box(field).bottom, top: box(field).top, scrolled: scrollY,
    width: document.documentElement.scrollWidth,
  };
}"""


AS_SENT = """async () => {
  const sent = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html");
  const shown = (page) => [...page.querySelectorAll("[data-wanted]")].filter((one) => !one.hidden).map((one) => one.id);
  return [shown(sent), shown(document)];
}"""


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The page of the supply failure step on a tablet, and its scene."""
    scene = make_scene(tmp_path, at=NOON)
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


@pytest.fixture
def checks(browser_page, log_in, tmp_path, transactional_db):
    """A page of three checks behind two others, and its scene."""
    scene = make_scene(tmp_path, text=procedure("guard", "filter", "flush", "valve", "hose", "knob"), at=NOON)
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step("valve").get_absolute_url())
    return browser_page, scene


def be_late(page, ms=DELAY_MS):
    late = {"offline": False, "latency": ms, "downloadThroughput": -1, "uploadThroughput": -1}
    page.context.new_cdp_session(page).send("Network.emulateNetworkConditions", late)


def press(page, *keys):
    """Press keys and type texts without waiting for anything."""
    for key in keys:
        if key in ("Enter", "PageDown", "PageUp", "Escape") or "+" in key:
            page.keyboard.press(key)
        else:
            page.keyboard.type(key)


def everything_is_saved(page):
    expect(page.locator(".saved:is([data-state=sending], [data-state=failed])")).to_have_count(0)


def stored():
    return {reading.slot: reading.as_read for reading in Reading.objects.current()}


def focused(page):
    return page.evaluate("document.activeElement.id || document.activeElement.name")


def test_the_first_empty_field_has_the_focus_and_the_form_comes_before_the_steps(bench):
    page, scene = bench
    assert focused(page) == "f-full_pressure"
    scene.enter("full_pressure", "50", unit="psi")
    page.reload()
    assert focused(page) == "f-set_flow"
    press(page, "Tab")
    stops = []
    for _ in range(60):
        page.keyboard.press("Tab")
        stops.append(page.evaluate("(document.activeElement.closest('.steps') || document.activeElement).className"))
        if stops[-1] == "steps":
            break
    assert stops[-1] == "steps" and any("next" in stop for stop in stops[:-1])
    assert not page.evaluate(
        "[...document.querySelectorAll('[data-setting]')].filter((one) => one.tabIndex >= 0).length"
    )


def test_readings_typed_without_looking_up_go_where_they_were_meant(bench):
    """More rows than the page shows at first, two Enters too many in the empty row, and then the rising sweep."""
    page, scene = bench
    be_late(page)
    falling = [(str(50 - row), f"{4 - row * 0.3:.1f}") for row in range(11)]
    press(page, "50", "Enter", "4", "Enter")
    for pressure, flow in falling:
        press(page, pressure, "Enter", flow, "Enter")
    press(page, "Enter", "Enter")
    expect(page.locator("#said")).to_contain_text("This row is empty")
    assert focused(page) == "f-falling-11-pressure"
    press(page, "PageDown", "12", "Enter", "0", "Enter", "50", "Enter", "4", "PageDown")
    everything_is_saved(page)
    meant = {("full_pressure", 0, ""): "50", ("set_flow", 0, ""): "4"}
    for table, rows in (("falling", falling), ("rising", [("12", "0"), ("50", "4")])):
        for row, (pressure, flow) in enumerate(rows):
            meant |= {(table, row, "pressure"): pressure, (table, row, "flow"): flow}
    assert stored() == meant
    assert Reading.objects.count() == len(meant)


def test_random_walks_of_a_technician_put_no_reading_in_a_wrong_place(bench):
    """Sheets with gaps and any number of rows, typed with answers that come late and in any order."""
    page, scene = bench
    rng, step = random.Random(530), scene.step()
    be_late(page)
    for _ in range(2):
        sheet = {("full_pressure", 0, ""): "50", ("set_flow", 0, ""): "4"}
        for table in ("falling", "rising"):
            for row in range(rng.randrange(1, 7)):
                for column in ("pressure", "flow"):
                    sheet[table, row, column] = str(rng.randrange(1, 60))
        sheet |= {(key, 0, ""): "2" for key in ("alarm_delay", "alarm_duration") if rng.random() < 0.5}
        Typist(page, {step.pk: sheet}).enter(Typist(page, {step.pk: sheet}).look())
        page.wait_for_url(f"**{scene.step('alarm').get_absolute_url()}")
        assert wrong_places({step.pk: sheet}, {step.pk: stored()}) == []
        Reading.objects.all().delete()
        page.goto(scene.step_url)


def test_answers_neither_move_the_focus_nor_touch_what_is_being_typed(bench):
    page, scene = bench
    enter(scene.step(), "full_pressure", as_read="52", unit="psi", by=scene.other, at=timezone.now())
    enter(scene.step(), "set_flow", as_read="4", unit="L/min", by=scene.technician, at=timezone.now())
    be_late(page)
    press(page, "50", "Enter", "5", "Enter", "45", "Enter", "4", "Enter", "3")
    at = focused(page)
    expect(page.locator("#told-full_pressure")).to_contain_text("Rui Serra entered 52 psi")
    expect(page.locator("#told-set_flow")).to_contain_text("it is the current reading")
    assert (focused(page), page.locator("#f-falling-1-pressure").input_value()) == (at, "3")
    press(page, "5", "Enter")
    everything_is_saved(page)
    assert stored()["falling", 1, "pressure"] == "35"


def test_a_second_reading_of_ones_own_in_a_place_is_refused_and_shown(bench):
    """The row was entered on another device in the meantime; this page shows it empty."""
    page, scene = bench
    scene.cell(0, "pressure", "45", unit="psi", at=timezone.now())
    page.get_by_label("Oxygen pressure, row 1").first.focus()
    press(page, "30", "Enter", "4", "Enter")
    expect(page.locator("#told-falling")).to_contain_text("two readings")
    expect(page.get_by_label("Oxygen pressure, row 1").first).to_have_value("45")
    everything_is_saved(page)
    assert stored()["falling", 0, "pressure"] == "45"
    page.get_by_role("button", name="Use 30 psi").click()
    expect(page.get_by_label("Oxygen pressure, row 1").first).to_have_value("30")


def test_only_the_fields_of_the_chosen_method_are_shown_at_once(bench):
    page, scene = bench
    page.goto(scene.step("flush").get_absolute_url())
    be_late(page, 2000)
    press(page, "Shift+Tab", "2")
    expect(page.get_by_label("Flush flow", exact=True)).to_be_hidden()
    press(page, "Enter", "5", "Enter", "6", "Enter", "y")
    expect(page.locator("[data-go=next]")).to_be_focused()
    everything_is_saved(page)
    assert stored() == {("method", 0, ""): "timed", ("volume", 0, ""): "5", ("time", 0, ""): "6",
                        ("stops_on_release", 0, ""): "yes"}  # fmt: skip


def test_checks_are_answered_with_one_key_each_on_one_page(checks):
    page, scene = checks
    be_late(page)
    press(page, "y", "n", "y", "y", "n")
    assert focused(page) == "then"
    expect(page.locator("#checks-bar")).to_contain_text("3 of 3")
    assert {reading.step.code: reading.as_read for reading in Reading.objects.current()} == {
        "valve": "yes", "hose": "no", "knob": "yes",
    }  # fmt: skip
    expect(page.locator(f"#mark-{scene.step('hose').pk}")).to_contain_text("fail")
    press(page, "Enter")
    page.wait_for_url("**/sign/")


def test_the_page_is_not_left_before_the_last_answer_is_acknowledged(checks):
    page, scene = checks
    held = []
    intercept(page, f"**/steps/{scene.step('knob').pk}/reading/", lambda route: held.append(route))
    press(page, "y", "y", "y", "Enter")
    until(page, lambda: held)
    page.wait_for_timeout(400)  # the page has time to be left too early
    assert "/sign/" not in page.url and len(held) == 1
    held[0].continue_()
    page.wait_for_url("**/sign/")
    assert scene.step("knob").readings.get().as_read == "yes"


def test_a_page_whose_device_slept_while_an_answer_was_due_goes_on_when_it_comes(checks):
    page, scene = checks
    page.clock.install()
    page.reload()
    held = []
    intercept(page, f"**/steps/{scene.step('knob').pk}/reading/", lambda route: held.append(route))
    press(page, "y", "y", "y", "Enter")
    until(page, lambda: held)
    page.clock.fast_forward("10:00")
    page.wait_for_timeout(400)  # the page has time to give up
    assert "/sign/" not in page.url
    expect(page.locator("#said")).to_have_text("")
    held[0].continue_()
    page.wait_for_url("**/sign/")


def test_a_key_too_many_answers_no_other_check(checks):
    page, scene = checks
    page.goto(scene.step("hose").get_absolute_url())
    press(page, "y", "y", "y", "n")
    everything_is_saved(page)
    assert {reading.step.code for reading in Reading.objects.current()} == {"hose", "knob"}


def test_an_answer_after_somebody_voided_the_inspection_is_told_in_the_bar(checks):
    page, scene = checks
    type(scene.inspection).objects.update(stage="void", void_reason="Wrong machine")
    press(page, "y")
    expect(page.locator("#said")).to_contain_text("is void: its readings are locked")
    assert stored() == {}


def test_each_key_does_what_the_list_of_keys_says_and_nothing_while_a_text_is_typed(checks):
    page, scene = checks
    press(page, "?")
    expect(page.get_by_role("dialog")).to_contain_text("Page Down")
    press(page, "y", "Escape")
    expect(page.get_by_role("dialog")).to_be_hidden()
    press(page, "Alt+t")
    reason = page.locator(f"#not-tested-{scene.step('valve').pk}-reason")
    expect(reason).to_be_focused()
    press(page, "No supply? yes/no", "Enter")
    page.wait_for_url(f"**{scene.step('hose').get_absolute_url()}")
    assert scene.step("valve").not_tested_reason == "No supply? yes/no"
    assert stored() == {}
    press(page, "Alt+b")
    page.wait_for_url(f"**{scene.step('flush').get_absolute_url()}")
    press(page, "y", "n", "?")
    expect(page.get_by_label("Flush flow", exact=True)).to_have_value("yn?")
    page.get_by_label("Flush flow", exact=True).fill("")
    press(page, "Alt+n")
    page.wait_for_url(f"**{scene.step('valve').get_absolute_url()}")
    press(page, "Alt+s")
    page.wait_for_url("**/sign/")


def test_next_waits_for_what_is_on_its_way_and_stays_with_what_is_refused(bench):
    page, scene = bench
    be_late(page)
    press(page, "fifty", "Alt+n")
    expect(page.locator("#said")).to_contain_text("was refused")
    expect(page.get_by_label("Oxygen pressure at the start", exact=True)).to_be_focused()
    page.get_by_label("Oxygen pressure at the start", exact=True).fill("50")
    press(page, "Alt+n")
    page.wait_for_url(f"**{scene.step('alarm').get_absolute_url()}")
    assert stored() == {("full_pressure", 0, ""): "50"}


def test_a_reading_that_the_device_stores_counts_as_acknowledged(bench):
    page, scene = bench
    answer = {"status": 202, "headers": {"Bench-Answer": "waiting"}, "body": ""}
    intercept(page, "**/reading/", lambda route: route.fulfill(**answer))
    press(page, "50", "Enter")
    expect(page.locator("#kept-full_pressure")).to_contain_text("on this device, not sent yet")
    press(page, "Alt+n")
    page.wait_for_url(f"**{scene.step('alarm').get_absolute_url()}")


def test_the_numbers_of_limit_bars_are_16_pixels_or_more_on_every_screen(bench):
    page, scene = bench
    scene.sweep()
    scene.rise()
    for width in (390, 768, 1024, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        page.reload()
        numbers = page.evaluate(BAR_NUMBERS)
        assert numbers and min(numbers) >= 16


def test_first_field_and_next_are_in_sight_on_every_step_of_the_yearly_on_a_tablet(
    browser_page, log_in, transactional_db
):
    """With every step that the procedure has, for a technician who sees each for the first time.

    And the script shows the fields that the server shows, also where the procedure made a choice.
    """
    page, at = browser_page, timezone.now()
    load_procedures(DIRECTORY, at=at)
    model = make_model(gases=["oxygen", "nitrous-oxide", "air"])
    machine, technician = make_machine(model=model, at=at), make_person("technician")
    for _ in range(3):
        make_instrument(site=machine.site)
    yearly = Procedure.objects.get(code="yearly")
    inspection = plan_inspection(machine, yearly, due_on=at.date(), by=None, at=at)
    open_inspection(inspection, by=technician, at=at)
    log_in(technician)
    page.set_viewport_size(TABLET)
    address, seen = f"/inspections/{inspection.pk}/bench/", 0
    page.goto(address)
    while "/sign/" not in page.url:
        page.wait_for_selector("[data-bench].scripted")
        expect(page.locator(".page-head")).to_contain_text(machine.asset_number)
        expect(page.locator(".page-head")).to_contain_text(machine.serial)
        found = page.evaluate(LAYOUT)
        assert found["small"] == [], page.title()
        assert found["scrolled"] == 0 and found["width"] <= TABLET["width"], page.title()
        assert 0 < found["top"] < found["field"] <= found["bar"] < found["next"] <= TABLET["height"], page.title()
        sent, shown = page.evaluate(AS_SENT)
        assert shown == sent, page.title()
        here, seen = page.url, seen + 1
        page.locator("[data-go=next]").click()
        page.wait_for_url(lambda url, here=here: url != here)
    assert seen > 12
