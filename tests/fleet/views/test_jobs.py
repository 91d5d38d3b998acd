"""The pages of background jobs: who sees, cancels, repeats and fetches what."""

import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.jobs.lifecycle import claim_job, finish_job
from fleet.models import Job
from tests.factories import NOON, make_person, make_site


@pytest.fixture(autouse=True)
def kind(monkeypatch):
    monkeypatch.setattr("fleet.jobs.kinds._kinds", {})
    job_kind("count", "Counting", permission="fleet.view_machine")(lambda run: Result("Counted."))


def make_job(by, n=0, stage="waiting"):
    job = request_job("count", title=f"Count {n}", params={"n": n}, by=by, at=NOON)
    if stage != "waiting":
        job = claim_job(job.pk, at=timezone.now())
    if stage == "done":
        finish_job(job, Result("Counted to 9.", file=io.BytesIO(b"9"), name="nine.txt"), at=NOON)
    return Job.objects.get(pk=job.pk)


def url(name, job):
    return reverse(f"fleet:{name}", args=[job.pk])


def status(client, person, job, name="job", method="get"):
    client.force_login(person)
    return getattr(client, method)(url(name, job)).status_code


@pytest.fixture
def technician(db):
    return make_person("technician")


def test_everybody_sees_the_own_work_and_a_planner_all(client, technician):
    own, by_itself = make_job(technician), make_job(None)
    narrowed = make_person("planner", sites=[make_site()])
    seen = {
        name: (status(client, person, own), status(client, person, by_itself))
        for name, person in {
            "own": technician, "other": make_person("technician"), "auditor": make_person("auditor"),
            "planner": make_person("planner"), "narrowed": narrowed,
        }.items()
    }  # fmt: skip
    assert seen == {
        "own": (200, 404), "other": (404, 404), "auditor": (404, 404), "planner": (200, 200), "narrowed": (404, 200),
    }  # fmt: skip


def test_the_list_tells_result_and_asker_in_a_fixed_number_of_queries(db, client):
    client.force_login(make_person("planner"))

    def queries():
        with CaptureQueriesContext(connection) as captured:
            page = client.get(reverse("fleet:jobs"))
        return len(captured), page.content.decode()

    make_job(make_person("technician", first_name="Ana"), 1, "done")
    make_job(None, 2, "running")
    few, text = queries()
    assert "Counted to 9." in text and "Ana" in text and "automatic" in text
    for n in range(3, 28):
        make_job(make_person("technician"), n)
    many, text = queries()
    assert (few, "1 to 25 of 27" in text) == (many, True)


def test_an_empty_list_says_what_comes_here(client, technician):
    client.force_login(technician)
    assert "No background jobs yet" in client.get(reverse("fleet:jobs")).content.decode()


def test_the_page_fetches_its_progress_itself_until_the_work_is_over(client, technician):
    job = make_job(technician, stage="running")
    Job.objects.update(done=1200, total=5000, words="Reading rows")
    client.force_login(technician)
    page = client.get(url("job", job)).content.decode()
    assert 'hx-trigger="every 2s"' in page and "<b>1,200</b> of <b>5,000</b>" in page and "<html" in page
    assert '<progress aria-labelledby="job-words" value="1200" max="5000">' in page
    finish_job(job, Result("Read."), at=NOON)
    answer = client.get(url("job", job), headers={"HX-Request": "true"})
    part = answer.content.decode()
    assert "<html" not in part and "hx-trigger" not in part and "Read." in part
    assert "HX-Request" in answer["Vary"] and "no-store" in answer["Cache-Control"]


def test_a_job_that_nothing_takes_up_says_so(client, technician):
    client.force_login(technician)
    assert "This job has been waiting" in client.get(url("job", make_job(technician))).content.decode()


def test_the_own_work_can_be_cancelled_and_asked_for_again(client, technician):
    job = make_job(technician)
    client.force_login(technician)
    assert client.get(url("job_cancel", job)).status_code == 405
    page = client.post(url("job_cancel", job), follow=True).content.decode()
    assert "Cancelled by Test" in page
    again = client.post(url("job_retry", job), follow=True)
    assert again.redirect_chain[0][0] == Job.objects.waiting().get().get_absolute_url()
    assert "cannot be cancelled" in client.post(url("job_cancel", job), follow=True).content.decode()


def test_a_planner_cancels_the_work_of_others_but_nobody_else_does(client, technician):
    job = make_job(technician, stage="running")
    assert status(client, make_person("technician"), job, "job_cancel", "post") == 404
    assert status(client, make_person("planner"), job, "job_retry", "post") == 403
    assert status(client, make_person("planner"), job, "job_cancel", "post") == 302
    job.refresh_from_db()
    assert job.is_stopping


def test_the_file_goes_to_the_asker_and_to_those_who_see_every_site(client, technician):
    job = make_job(technician, stage="done")
    client.force_login(technician)
    answer = client.get(url("job_file", job))
    assert b"".join(answer.streaming_content) == b"9"
    assert answer["Content-Disposition"] == 'attachment; filename="nine.txt"'
    assert status(client, make_person("planner"), job, "job_file") == 200
    assert status(client, make_person("auditor"), job, "job_file") == 404
    technician.groups.clear()
    assert status(client, technician, job, "job_file") == 403, "who may no longer ask may no longer fetch"


def test_a_file_that_is_gone_is_not_found(client, technician):
    job = make_job(technician, stage="done")
    job.file.storage.delete(job.file.name)
    assert status(client, technician, job, "job_file") == 404
    Job.objects.update(file="")
    assert status(client, technician, job, "job_file") == 404
    assert "deleted after 14 days" in client.get(url("job", job)).content.decode()


def test_nobody_without_a_login_sees_any(client, technician):
    assert client.get(url("job", make_job(technician)))["Location"].startswith("/login/")
