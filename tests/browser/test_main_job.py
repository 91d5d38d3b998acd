"""The main job in a real browser: booked, failed in psi, signed, withdrawn, retested in kPa, released, reviewed."""

from tests.browser.main_job import do_main_job


def test_a_failing_trip_pressure_takes_a_machine_out_until_its_retest_passes(
    browser_page, screenshot, transactional_db
):
    do_main_job(browser_page, screenshot)
