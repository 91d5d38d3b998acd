"""Confirming a requested token, in a real browser."""

from playwright.sync_api import expect

from fleet.actions import set_up_second_factor
from fleet.models import ApiToken
from tests.factories import NOON, PASSWORD, ask_for_token, make_person, make_token
from tests.inspections.scenes import make_scene


def test_the_owner_finds_confirms_and_revokes_a_token(browser_page, log_in, screenshot):
    owner = make_person("technician", username="ana", first_name="Ana", last_name="Ferro")
    ask_for_token(owner, name="Pressure logger")
    make_token(owner, name="Stores system")
    log_in(owner)
    browser_page.goto("/")
    screenshot("home-token-waits")
    browser_page.get_by_text("Ana Ferro").first.click()
    browser_page.get_by_role("link", name="My tokens").first.click()
    screenshot("own-tokens")
    browser_page.get_by_role("link", name="Confirm Pressure logger").click()
    screenshot("own-token-confirm")
    browser_page.get_by_label("Your password").fill(PASSWORD)
    browser_page.get_by_role("button", name="Confirm this token").click()
    expect(browser_page.get_by_text("Copy the secret now")).to_be_visible()
    screenshot("own-token-confirmed")
    browser_page.get_by_role("link", name="Done").click()
    browser_page.get_by_role("link", name="Revoke Stores system").click()
    browser_page.get_by_role("button", name="Revoke this token").click()
    expect(browser_page.get_by_text("requests with it are no longer accepted")).to_be_visible()
    assert ApiToken.objects.get(name="Stores system").revoked_by == owner


def test_a_reading_of_a_program_says_so_on_the_bench_and_on_the_record(browser_page, log_in, screenshot, tmp_path):
    scene = make_scene(tmp_path)
    token = make_token(scene.technician, name="Pressure logger")[0]
    scene.complete()
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter, token=token)
    log_in(scene.technician)
    browser_page.goto(scene.step_url)
    expect(browser_page.get_by_text("by program Pressure logger with the token of Ana Ferro")).to_be_visible()
    screenshot("bench-program")
    browser_page.goto(scene.sign().get_absolute_url())
    expect(browser_page.get_by_text("Entered by program Pressure logger with the token of Ana Ferro")).to_be_visible()
    screenshot("record-program")


def test_removing_the_second_factor_asks_for_password_and_code(browser_page, log_in, screenshot):
    person = make_person("technician", username="ana")
    log_in(person)
    codes = set_up_second_factor(person, key="31" * 20, step=-1, at=NOON)
    person.refresh_from_db()
    log_in(person)
    browser_page.goto("/second-factor/ask/")
    browser_page.get_by_label("Code").fill(codes[0])
    with browser_page.expect_navigation():
        browser_page.get_by_role("button", name="Sign in").click()
    browser_page.goto("/second-factor/remove/")
    screenshot("second-factor-remove")
    browser_page.get_by_label("Your password").fill(PASSWORD)
    browser_page.get_by_label("Code").fill(codes[1])
    browser_page.get_by_role("button", name="Remove it").click()
    expect(browser_page.get_by_text("Your second factor is removed")).to_be_visible()
