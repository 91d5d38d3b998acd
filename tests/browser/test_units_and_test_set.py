"""Units and the test set at the bench in a real browser: one press at the head, typed units, scanned labels."""

import pytest
from playwright.sync_api import expect

from inspections.models import Inspection, InstrumentOfDay, Reading
from tests.factories import NOON, make_instrument
from tests.inspections.scenes import make_scene
from tests.services.browser import TABLET

START = "Oxygen pressure at the start"
LOW = [{"dimension": "pressure", "unit": "kPa", "low": 0, "high": 20, "resolution": 0.01, "absolute": 0.02}]


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The supply failure step on a tablet, of a machine that was inspected before, and its scene."""
    scene = make_scene(tmp_path, at=NOON)
    scene.complete()
    scene.sign()
    scene.again(at=NOON)
    make_instrument(site=scene.machine.site, code="LOW-1", scales=LOW)
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def field(page, label):
    return page.get_by_label(label, exact=True)


def scan(page, code):
    """A scanner types a code at once and presses Enter."""
    page.keyboard.type(code)
    page.keyboard.press("Enter")


def scan_with_the_focus_nowhere(page, code):
    """The same as one burst, however slowly this computer sends single keys."""
    page.evaluate(
        """(keys) => keys.forEach((key) => document.body.dispatchEvent(
            new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true })))""",
        [*code, "Enter"],
    )


def kept(scene, field):
    return Reading.objects.current().get(step=scene.step(), field=field)


def test_a_unit_is_typed_for_one_reading_and_chosen_for_all_empty_fields(bench):
    page, scene = bench
    # A typed unit is of that reading: the box shows the number, its unit is chosen beside it.
    field(page, START).fill("3,1 bar")
    field(page, START).press("Enter")
    expect(page.locator("#kept-full_pressure")).to_contain_text("saved")
    expect(field(page, START)).to_have_value("3.1")
    expect(page.locator("[name='full_pressure:unit']")).to_have_value("bar")
    assert str(kept(scene, "full_pressure")) == "3.1 bar"
    # One press at the head: empty fields and last time's values follow, a saved reading stays.
    page.locator("[name=unit-pressure]").select_option("kPa")
    expect(page.locator("#last-falling-0-pressure")).to_contain_text("310 kPa")
    expect(page.locator("#last-falling-0-pressure")).to_contain_text("read as 45 psi")
    expect(page.locator("[name='falling.*.pressure:unit']")).to_have_value("kPa")
    expect(page.locator("[name='full_pressure:unit']")).to_have_value("bar")
    assert Inspection.objects.get(pk=scene.inspection.pk).units == {"pressure": "kPa"}


def test_a_scanned_label_takes_the_instrument_in_a_field_and_elsewhere(bench):
    page, scene = bench
    # A label scanned into a field empties it again, keeps the focus and takes the instrument for its column.
    cell = page.locator("#f-falling-0-pressure")
    cell.focus()
    scan(page, "low-1")
    expect(page.locator("#test-set b")).to_have_text("LOW-1")
    expect(cell).to_have_value("")
    expect(cell).to_be_focused()
    low = InstrumentOfDay.objects.get().instrument
    expect(page.locator("[name='falling.*.pressure:instrument']")).to_have_value(str(low.pk))
    # Scanned with the focus nowhere it joins the set; what is not known is said.
    page.evaluate("document.activeElement.blur()")
    scan_with_the_focus_nowhere(page, scene.gauge.code)
    expect(page.locator("#test-set b")).to_contain_text(scene.gauge.code)
    scan_with_the_focus_nowhere(page, "NONE-77")
    expect(page.locator("#test-set")).to_contain_text("No instrument at this site has the code “NONE-77”")
    # Without a choice of the person, a value that the proposed gauge does not hold takes the one that does.
    page.reload()
    page.locator("#f-rising-0-pressure").fill("350 kPa")
    page.locator("#f-rising-0-pressure").press("Enter")
    expect(page.locator("#kept-rising-0-pressure")).to_contain_text("saved")
    assert kept(scene, "rising").instrument == scene.gauge


def test_a_key_pressed_alone_outside_of_fields_still_reaches_the_page(bench):
    page, _ = bench
    page.evaluate("""document.activeElement.blur();
        document.addEventListener("keydown", (event) => { document.body.dataset.pressed = event.key; });""")
    page.keyboard.press("n")
    expect(page.locator("body")).to_have_attribute("data-pressed", "n")
