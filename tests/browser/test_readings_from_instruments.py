"""A column pasted into a table, the stop-watch of a time, a repeat: in a real browser with a real clipboard."""

import re

import pytest
from playwright.sync_api import expect

from inspections.models import Reading
from tests.factories import NOON
from tests.inspections.scenes import SHORT, make_scene
from tests.services.browser import TABLET

REGULATOR = """
[[step]]
code = "regulator"
title = "Regulator"
test = "regulator"
"""


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The supply failure step on a tablet, and its scene."""
    scene = make_scene(tmp_path, text=SHORT + REGULATOR, at=NOON)
    log_in(scene.technician)
    browser_page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def paste(page, place, text):
    page.locator(f"#f-{place}").focus()
    page.evaluate("(text) => navigator.clipboard.writeText(text)", text)
    page.keyboard.press("Control+V")


def said(page, table="falling"):
    return page.locator(f"#table-{table} [data-paste-said]")


def everything_is_saved(page):
    expect(page.locator(".saved:is([data-state=sending], [data-state=failed])")).to_have_count(0)


def stored(field="falling"):
    found = Reading.objects.current().filter(field=field)
    return {(one.row, one.column): str(one) for one in found}


def field_texts(page):
    return page.locator("#step-form input[inputmode=decimal]").evaluate_all("all => all.map((one) => one.value)")


def test_a_pasted_block_is_stored_like_typed_readings_and_undone_by_its_key(bench):
    """Twelve lines where the page shows eight rows, a unit in a cell, a blank line and a question about one value."""
    page, scene = bench
    paste(page, "full_pressure", "50")  # one value, by the browser itself
    page.keyboard.press("Enter")
    expect(page.locator("#kept-full_pressure")).to_contain_text("saved")
    scene.enter("falling", "44", row=0, column="pressure", unit="psi", instrument=scene.gauge)
    page.reload()
    lines = ["45\t4.0", "3,1 bar\t4.0", "", *(f"{40 - row}\t{4 - row * 0.2:.1f}" for row in range(9)), "", ""]
    paste(page, "falling-0-pressure", "\r\n".join(lines))
    expect(said(page)).to_contain_text("22 values filled, rows 1 to 12. 1 earlier value was replaced.")
    expect(said(page)).to_contain_text("1 blank line left out")
    expect(page.locator("#kept-falling-11-flow")).to_contain_text("L/min")
    everything_is_saved(page)
    found = stored()
    assert (found[0, "pressure"], found[1, "pressure"], found[11, "flow"]) == ("45 psi", "3.1 bar", "2.4 L/min")
    assert len(found) == 22 and (2, "pressure") not in found
    expect(page.locator("#f-falling-1-pressure")).to_have_value("3.1")
    page.keyboard.press("Control+z")
    expect(said(page)).to_contain_text("Paste undone")
    expect(page.locator("#kept-falling-11-flow")).to_have_attribute("data-state", "")  # no reading; the one before it
    expect(page.locator("#kept-falling-11-flow .was")).to_contain_text("L/min")  # is shown as corrected
    everything_is_saved(page)
    assert stored() == {(0, "pressure"): "44 psi"}


REFUSED = [
    (["45", "abc", "30"], "Line 2, Oxygen pressure: “abc” is not a number. Accepted: digits"),
    (["45", "4 L/min"], "Line 2, Oxygen pressure: “L/min” is a unit of flow. Accepted: "),
    (
        ["45", "9000000"],
        "Line 2, Oxygen pressure: “9000000” is not plausible in psi. Accepted: -15.9542 to 8702.26 psi.",
    ),
    (["45\t4\t1"], "Line 1 has 3 cells. Accepted: 2 at most from this column on."),
    (["1"] * 61, "Accepted: 60 lines at most."),
    (["45,4", "35,4"], "“45,4” can be read as one number or as two cells. Accepted: tab or semicolon"),
    (["1,234.5", "1,230.5"], "can be read as one number or as two cells"),
    (["45;1,234"], "Line 1, Flow of the other gas: “1,234” can be read as 1.234 or as 1234."),
]


def test_what_a_field_does_not_take_is_named_with_its_line_and_nothing_is_filled(bench):
    page, _ = bench
    before = field_texts(page)
    for lines, words in REFUSED:
        paste(page, "falling-0-pressure", "\n".join(lines))
        expect(said(page)).to_contain_text(words)
        expect(said(page)).to_contain_text("Nothing was filled.")
        assert field_texts(page) == before
    assert stored() == {}
    paste(page, "full_pressure", "50\n45\n")
    expect(page.locator("#said")).to_contain_text("this field takes one value")
    assert field_texts(page) == before


def test_a_column_pasted_without_a_network_is_sent_later_and_what_was_corrected_stays_when_it_is_undone(bench):
    page, _ = bench
    page.context.set_offline(True)
    paste(page, "falling-0-pressure", "45\n35\n26\n")
    expect(page.locator("#kept-falling-2-pressure")).to_have_text("not saved, will be sent again")
    page.context.set_offline(False)
    everything_is_saved(page)
    assert set(stored().values()) == {"45 psi", "35 psi", "26 psi"}
    page.locator("#f-falling-1-pressure").fill("36")
    page.locator("#f-falling-1-pressure").press("Tab")
    page.get_by_role("button", name="Undo paste").press("Enter")
    expect(page.locator("#f-falling-0-pressure")).to_be_focused()
    expect(page.locator("#kept-falling-0-pressure")).to_have_attribute("data-state", "")
    expect(page.locator("#kept-falling-0-pressure .was")).to_contain_text("45 psi")
    everything_is_saved(page)
    assert stored() == {(1, "pressure"): "36 psi"}


def test_a_stop_watch_writes_its_seconds_whatever_the_clock_does_and_a_repeat_is_added(bench):
    page, _ = bench
    watch = page.locator("#place-alarm_delay .stopwatch button").first
    assert watch.bounding_box()["height"] >= 44
    page.locator("#f-alarm_delay").focus()
    page.wait_for_timeout(200)
    expect(watch).to_have_text("Start stop-watch")
    page.evaluate("window.began = performance.now()")
    page.keyboard.press("Alt+w")
    page.evaluate("() => { const now = Date.now(); Date.now = () => now + 3600000; }")
    page.locator("#f-full_pressure").focus()
    expect(watch).to_contain_text(re.compile(r"Stop (0\.[3-9]|[1-9]\d*\.\d)"))
    watch.click()
    most = page.evaluate("performance.now() - window.began") / 1000
    expect(page.locator("#kept-alarm_delay")).to_contain_text("saved")
    reading = Reading.objects.current().get(field="alarm_delay")
    expect(page.locator("#said")).to_contain_text(f"Stopped: {reading.as_read} s.")
    page.locator("#place-alarm_delay [data-repeat]").click()
    page.keyboard.type("0.5")
    page.keyboard.press("Enter")
    expect(page.locator("#f-alarm_delay")).to_have_value(f"{reading.as_read}; 0.5")
    expect(page.locator("#kept-alarm_delay")).to_contain_text("saved")
    assert str(Reading.objects.current().get()) == f"{reading.as_read} s; 0.5 s"
    assert reading.unit == "s" and 0.3 <= float(reading.as_read) <= most + 0.1


def test_the_stop_watch_of_a_column_writes_each_press_into_the_next_empty_field(bench):
    page, scene = bench
    page.goto(scene.step("regulator").get_absolute_url())
    page.locator("#f-creep-0-time").focus()
    for _ in range(3):
        page.keyboard.press("Alt+w")
        page.wait_for_timeout(200)
    page.locator("#table-creep").get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#kept-creep-1-time")).to_contain_text("saved")
    everything_is_saved(page)
    found = Reading.objects.current().filter(field="creep").order_by("row")
    assert [one.unit for one in found] == ["s", "s"]
    assert 0.2 <= float(found[0].as_read) < float(found[1].as_read)
