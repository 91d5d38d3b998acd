"""The end of a session in a real browser: warned of in time, and no typing lost."""

import time
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from playwright.sync_api import expect

from inspections.models import Finding
from tests.factories import PASSWORD, make_machine, make_person


@pytest.fixture
def fault(browser_page, log_in, transactional_db):
    """The form of a fault report with something typed, by somebody who is signed in."""
    machine = make_machine()

    def opened():
        log_in(make_person("technician", username="ana"))
        browser_page.clock.install()
        browser_page.goto(reverse("inspections:fault_report", args=[machine.pk]))
        browser_page.locator("#id_title").fill("Flush sticks when cold")
        return browser_page

    return opened


def let_pass(page, seconds):
    """So many seconds go by on the clock of the page, and since the session was last used."""
    for session in Session.objects.all():
        held = session.get_decoded()
        used_at = held.get("seen", int(time.time()))
        session.session_data = Session.objects.encode(held | {"seen": used_at - seconds})
        session.expire_date -= timedelta(seconds=seconds)
        session.save()
    page.clock.fast_forward(1000 * seconds)


def choose_other(page):
    if page.locator("select#id_severity").count():
        page.locator("select#id_severity").select_option("other")
    else:
        page.locator("input[name=severity][value=other]").check()


def send(page):
    page.locator("main form.form button[type=submit]").click()


def sign_in_in_another_window(page):
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Sign in in another window").click()
    other = opened.value
    other.get_by_label("Username").fill("ana")
    other.get_by_label("Password").fill(PASSWORD)
    other.get_by_role("button", name="Sign in").click()
    other.wait_for_url("**/")
    other.close()


def test_a_form_sent_after_the_end_of_the_session_is_sent_again_from_where_it_was(fault, screenshot):
    page = fault()
    choose_other(page)
    page.context.clear_cookies(name="sessionid")
    send(page)
    expect(page.get_by_role("heading", name="You were signed out before this was sent")).to_be_visible()
    screenshot("session-form-kept")
    assert not Finding.objects.exists()
    sign_in_in_another_window(page)
    page.bring_to_front()
    page.get_by_role("button", name="Send it again").click()
    page.wait_for_url("**/findings/**")
    assert Finding.objects.get().title == "Flush sticks when cold"


def test_the_page_warns_before_the_end_and_a_press_moves_it_on(fault, settings, screenshot):
    page = fault()
    stay = page.get_by_role("button", name="Stay signed in")
    expect(stay).to_be_hidden()
    let_pass(page, settings.SESSION_COOKIE_AGE - settings.SESSION_WARNING_SECONDS + 1)
    expect(stay).to_be_visible()
    expect(page.get_by_text("You will be signed out soon")).to_be_visible()
    expect(page.get_by_role("link", name="Sign in in another window")).to_be_hidden()
    screenshot("session-warning")
    stay.click()
    expect(stay).to_be_hidden()
    expect(page.locator("#id_title")).to_have_value("Flush sticks when cold")


def test_a_form_is_held_back_when_the_page_knows_that_the_session_ended(fault, settings, screenshot):
    page = fault()
    choose_other(page)
    let_pass(page, settings.SESSION_COOKIE_AGE + 1)
    expect(page.get_by_text("You are signed out")).to_be_visible()
    send(page)
    expect(page.locator("#id_title")).to_have_value("Flush sticks when cold")
    screenshot("session-ended")
    assert not Finding.objects.exists()
    sign_in_in_another_window(page)
    page.bring_to_front()
    send(page)
    page.wait_for_url("**/findings/**")
    assert Finding.objects.get().title == "Flush sticks when cold"
