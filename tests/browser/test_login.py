"""Signing in, in a real browser."""

from playwright.sync_api import expect

from fleet.models import Person
from tests.services.browser import log_in_by_form

PASSWORD = "fluted-knob-28"


def make_ann():
    return Person.objects.create_user("ann", password=PASSWORD)


def test_the_right_password_leads_to_the_page_that_was_asked_for(browser_page):
    make_ann()
    log_in_by_form(browser_page, "ann", PASSWORD, to="/password/")
    expect(browser_page.get_by_label("Old password")).to_be_visible()


def test_a_wrong_password_is_refused_in_words_beside_the_form(browser_page, screenshot):
    make_ann()
    browser_page.goto("/login/")
    browser_page.get_by_label("Username").fill("ann")
    browser_page.get_by_label("Password").fill("guessed")
    browser_page.get_by_role("button", name="Sign in").click()
    expect(browser_page.get_by_text("Please enter a correct username and password")).to_be_visible()
    assert browser_page.url.endswith("/login/")
    screenshot("login-refused")


def test_the_keyboard_alone_signs_in(browser_page):
    make_ann()
    browser_page.goto("/login/?next=/password/")
    browser_page.get_by_label("Username").focus()
    for keys in ("ann", PASSWORD):
        browser_page.keyboard.type(keys)
        browser_page.keyboard.press("Tab")
    expect(browser_page.get_by_role("button", name="Sign in")).to_be_focused()
    browser_page.keyboard.press("Enter")
    browser_page.wait_for_url("**/password/")


def test_a_session_given_to_the_browser_is_that_persons(browser_page, log_in):
    log_in(make_ann())
    browser_page.goto("/password/")
    expect(browser_page.get_by_label("Old password")).to_be_visible()
