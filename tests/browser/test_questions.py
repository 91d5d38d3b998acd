"""A question about a reading in a real browser: beside the field, answered with one press, and never in the way."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from inspections.models import Reading, ReadingQuestion
from tests.factories import NOON
from tests.inspections.scenes import make_scene
from tests.services.browser import TABLET


@pytest.fixture
def bench(browser_page, log_in, tmp_path, transactional_db):
    """The second inspection of a machine on a tablet; at the first the pipeline showed 50 psi."""
    scene = make_scene(tmp_path, at=NOON)
    scene.complete()
    scene.sign()
    scene.again(at=NOON + timedelta(days=1))
    log_in(scene.technician)
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(scene.step_url)
    return browser_page, scene


def standing(scene):
    return {reading.slot: str(reading) for reading in Reading.objects.current().filter(step=scene.step())}


def start(page):
    return page.get_by_label("Oxygen pressure at the start", exact=True)


def test_a_wrong_unit_is_asked_about_and_one_press_corrects_it(bench):
    page, scene = bench
    page.get_by_label("Unit of oxygen pressure at the start").select_option("kPa")
    start(page).fill("50")
    start(page).press("Enter")
    expect(page.get_by_label("Flow of the other gas at the start", exact=True)).to_be_focused()
    question = page.locator("#told-full_pressure [data-question]")
    expect(question).to_contain_text("50 psi last time. Did you mean 50 psi?")
    question.get_by_role("button", name="50 psi", exact=True).click()
    expect(page.locator("[data-question]")).to_have_count(0)
    expect(page.get_by_label("Unit of oxygen pressure at the start")).to_have_value("psi")
    expect(start(page)).to_be_focused()
    assert standing(scene) == {("full_pressure", 0, ""): "50 psi"}
    page.reload()
    expect(start(page)).to_have_value("50")
    assert ReadingQuestion.objects.get().answer_words == "corrected to 50 psi"


def test_a_reading_of_a_table_that_is_right_stays_and_work_went_on_meanwhile(bench):
    page, scene = bench
    page.get_by_label("Oxygen pressure, row 1").first.fill("450")
    page.get_by_label("Oxygen pressure, row 1").first.press("Enter")
    page.get_by_label("Flow of the other gas, row 1").first.fill("4")
    page.get_by_label("Flow of the other gas, row 1").first.press("Enter")
    question = page.locator("#told-falling [data-question]")
    expect(question).to_contain_text("Oxygen pressure, row 1: 450 psi.")
    expect(page.locator("#kept-falling-0-flow")).to_contain_text("saved")
    page.reload()
    question.get_by_role("button", name="450 psi is right").click()
    expect(page.locator("[data-question]")).to_have_count(0)
    expect(page.get_by_label("Oxygen pressure, row 1").first).to_have_value("450")
    assert ReadingQuestion.objects.get().answer == "right"
    page.reload()
    expect(page.locator("[data-question]")).to_have_count(0)


def test_a_corrected_cell_shows_and_sends_what_was_meant(bench):
    page, scene = bench
    page.get_by_label("Oxygen pressure, row 1").first.fill("4.5")
    page.get_by_label("Oxygen pressure, row 1").first.press("Enter")
    page.locator("#told-falling [data-question]").get_by_role("button", name="45 psi", exact=True).click()
    expect(page.get_by_label("Oxygen pressure, row 1").first).to_have_value("45")
    expect(page.locator("[data-question]")).to_have_count(0)
    page.get_by_label("Oxygen pressure, row 1").first.fill("46")
    page.get_by_label("Oxygen pressure, row 1").first.press("Tab")
    expect(page.locator("#kept-falling-0-pressure")).to_contain_text("psi")
    page.reload()
    expect(page.get_by_label("Oxygen pressure, row 1").first).to_have_value("46")
    assert standing(scene) == {("falling", 0, "pressure"): "46 psi"}
