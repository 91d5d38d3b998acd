"""The page of a job follows its work by itself, in a real browser."""

import io

from playwright.sync_api import expect

from fleet.actions import request_job
from fleet.jobs import Result
from fleet.jobs.lifecycle import claim_job, finish_job
from fleet.models import Job
from tests.factories import NOON, make_person


def test_the_page_shows_progress_and_then_the_result_without_being_loaded_again(browser_page, log_in, screenshot):
    person = make_person("technician")
    job = request_job("record-papers", title="40 records as PDF", params={"inspections": []}, by=person, at=NOON)
    claimed = claim_job(job.pk, at=NOON)
    Job.objects.update(done=10, total=40, words="Writing records")
    log_in(person)
    browser_page.goto(job.get_absolute_url())
    expect(browser_page.get_by_text("Writing records: 10 of 40")).to_be_visible()
    Job.objects.update(done=20)
    expect(browser_page.get_by_text("Writing records: 20 of 40")).to_be_visible()
    expect(browser_page.get_by_role("progressbar")).to_have_js_property("value", 20)
    screenshot("job-running")
    finish_job(claimed, Result("40 records written.", io.BytesIO(b"papers"), "records.zip"), at=NOON)
    expect(browser_page.get_by_text("40 records written.")).to_be_visible()
    with browser_page.expect_download() as download:
        browser_page.get_by_role("link", name="Download records.zip").click()
    assert download.value.suggested_filename == "records.zip"
