"""The page of a gas circuit in a real browser: a state picked by keyboard, at tablet width, and without scripts."""

import pytest
from playwright.sync_api import expect

from tests.factories import make_machine, make_model, make_person
from tests.fleet.circuit_texts import SMALL
from tests.services.browser import TABLET


@pytest.fixture
def page(browser_page, log_in, transactional_db):
    machine = make_machine(model=make_model(circuit=SMALL))
    log_in(make_person("technician"))
    browser_page.set_viewport_size(TABLET)
    browser_page.goto(f"/machines/{machine.pk}/circuit/")
    return browser_page


def pick(page, picker, words):
    """Type the words as a person does; again where the browser was kept waiting, and took their end for a new word."""
    picker.focus()
    page.keyboard.type(words)
    for _ in range(20):
        if picker.evaluate("one => one.selectedOptions[0].text") == words:
            return
        page.wait_for_timeout(2000)  # after which the browser takes what is typed for a new word
        page.keyboard.type(words)


def test_a_state_is_picked_by_keyboard_and_drawn_without_losing_the_place(page):
    picker = page.get_by_role("combobox", name="Show")
    pick(page, picker, "Oxygen pipeline disconnected")
    page.keyboard.press("Tab")
    expect(page.locator("#shown")).to_have_text("Oxygen pipeline disconnected")
    expect(page.get_by_role("combobox", name="Pressures in")).to_be_focused()
    expect(page.get_by_role("row", name="Cut-off valve")).to_contain_text("shut")
    expect(page.get_by_role("img", name="Oxygen pipeline disconnected")).to_be_visible()
    page.reload()
    expect(page.locator("#shown")).to_have_text("Oxygen pipeline disconnected")


def test_nothing_of_the_page_is_wider_than_a_tablet(page):
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
