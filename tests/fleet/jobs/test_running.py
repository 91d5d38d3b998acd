"""Background jobs in one process: requested, taken up, shown, ended, cancelled, taken over; each step once."""

import io
from datetime import timedelta
from threading import Event
from time import monotonic, sleep

import pytest
from django.db import OperationalError, connection, transaction

from fleet.actions import cancel_job, recover_jobs, request_job, retry_job
from fleet.errors import JobRefused, Refused
from fleet.jobs import Lost, Result, job_kind
from fleet.jobs.lifecycle import claim_job, finish_job
from fleet.jobs.running import run_waiting_job, run_waiting_jobs
from fleet.models import Job, Site
from tests.factories import NOON, make_person, make_site
from tests.services.programs import PATIENCE_S

LEASE = timedelta(seconds=60)
LATER = NOON + timedelta(minutes=5)


@pytest.fixture(autouse=True)
def kinds(monkeypatch):
    """Remove the kinds of job that a test declares."""
    monkeypatch.setattr("fleet.jobs.kinds._kinds", {})


def ask(work, *, by=None, **params):
    """Request the function `work` as a job, declared as a kind of that name."""
    job_kind(work.__name__, "Test work")(work)
    return request_job(work.__name__, title="Test work", params=params, by=by, at=NOON)


def do(job, **options):
    run_waiting_job(job.pk, clock=lambda: LATER, pulse=False, **options)
    job.refresh_from_db()
    return job


def count(run):
    for _ in run.each(range(3), "Counting"):
        pass
    return Result("Counted to 3.", file=io.BytesIO(b"1 2 3"), name="count.txt")


def make_a_site(run):
    with transaction.atomic():
        make_site(code="made-once")
        run.finish(Result("One site made."))


def test_a_job_ends_with_its_words_and_its_file(db):
    job = do(ask(count))
    assert (job.stage, job.result, job.done, job.total) == ("done", "Counted to 3.", 3, 3)
    assert job.file.read() == b"1 2 3" and job.file_name == "count.txt"
    assert (job.started_at, job.finished_at) == (LATER, LATER)


def test_asking_twice_while_it_is_open_gives_the_same_job(db):
    assert ask(count) == ask(count)
    assert ask(count, of="another") != ask(count)
    do(Job.objects.oldest_first().first())
    assert ask(count).stage == "waiting", "once it is over the same can be asked for again"


def test_only_one_of_two_takes_a_job_up(db):
    job = ask(count)
    assert claim_job(job.pk, at=NOON) == job
    assert claim_job(job.pk, at=NOON) is None
    assert run_waiting_job(job.pk, clock=lambda: NOON, pulse=False) is None


def test_an_unknown_kind_cannot_be_asked_for(db):
    with pytest.raises(LookupError, match="There is no kind of job “dig”"):
        request_job("dig", title="Dig", params={}, by=None, at=NOON)


def test_jobs_are_done_in_the_order_in_which_they_were_asked_for(db):
    done = []

    def note(run):
        done.append(run.params["n"])
        return Result("Noted.")

    for n in range(3):
        ask(note, n=n)
    assert run_waiting_jobs(clock=lambda: NOON, pulse=False) == 3
    assert done == [0, 1, 2]


def test_what_is_refused_fails_the_job_with_its_sentence(db):
    def refuse(run):
        raise Refused("The file has no header. Give it one.")

    assert (do(ask(refuse)).stage, ask(refuse).stage) == ("failed", "waiting")
    assert Job.objects.closed().get().error == "The file has no header. Give it one."


def test_an_unknown_error_is_told_without_its_details_and_leaves_nothing(db):
    def break_down(run):
        with transaction.atomic():
            make_site()
            raise ZeroDivisionError("Ana Ferro")

    job = do(ask(break_down))
    assert job.stage == "failed" and "ZeroDivisionError" in job.error and "Ana" not in job.error
    assert not Site.objects.exists()


def test_a_waiting_job_is_cancelled_at_once_and_then_not_done(db):
    job, person = ask(count), make_person("planner")
    cancel_job(job, by=person, at=NOON)
    assert (do(job).stage, job.cancel_asked_by, job.attempt) == ("cancelled", person, 0)
    with pytest.raises(JobRefused, match="is already cancelled"):
        cancel_job(job, by=person, at=NOON)


def test_a_running_job_lets_go_at_its_next_sign_of_progress(db):
    def work(run):
        make_site()
        cancel_job(Job.objects.get(), by=None, at=NOON)
        run.progress(1, 10)
        return Result("Not reached.")

    job = do(ask(work))
    assert (job.stage, job.result) == ("cancelled", "")


def test_a_process_that_must_end_puts_its_job_back(db):
    stop = Event()

    def work(run):
        stop.set()
        run.progress(1, 10)
        return Result("Not reached.")

    job = do(ask(work), stop=stop)
    assert (job.stage, job.attempt, job.finished_at) == ("waiting", 1, None)


def test_a_lost_database_leaves_the_job_to_be_recovered(db):
    def work(run):
        raise OperationalError("server closed the connection")

    job = do(ask(work))
    assert (job.stage, job.error) == ("running", "")


def test_a_silent_job_waits_again_and_an_attempt_that_was_overtaken_changes_nothing(db):
    job = ask(make_a_site)
    first = claim_job(job.pk, at=NOON)
    assert recover_jobs(at=NOON + LEASE, lease=LEASE) == 0
    assert recover_jobs(at=LATER, lease=LEASE) == 1
    assert do(job).stage == "done"
    with pytest.raises(Lost), transaction.atomic():
        make_site(code="made-twice")
        finish_job(first, Result("Too late."), at=LATER)
    assert [site.code for site in Site.objects.all()] == ["made-once"]
    job.refresh_from_db()
    assert (job.result, job.attempt) == ("One site made.", 2)


def test_the_work_and_the_end_of_the_job_stand_or_fall_together(db):
    def work(run):
        with transaction.atomic():
            make_site()
            run.finish(Result("Made."))
            raise OperationalError("the disk is full")

    job = do(ask(work))
    assert job.stage == "running" and not Site.objects.exists()
    recover_jobs(at=LATER + 2 * LEASE, lease=LEASE)
    job_kind("work", "Test work")(make_a_site)
    assert (do(job).stage, Site.objects.count()) == ("done", 1)


def test_a_job_that_dies_again_and_again_fails_in_plain_words(db):
    job = ask(count)
    for n in range(1, 4):
        assert claim_job(job.pk, at=NOON + n * LEASE).attempt == n
        recover_jobs(at=NOON + n * LEASE + 2 * LEASE, lease=LEASE)
    job.refresh_from_db()
    assert job.stage == "failed" and "stopped 3 times" in job.error


def test_a_silent_job_that_was_to_be_cancelled_is_cancelled(db):
    job = ask(count)
    claim_job(job.pk, at=NOON)
    cancel_job(job, by=None, at=NOON)
    recover_jobs(at=LATER, lease=LEASE)
    job.refresh_from_db()
    assert job.stage == "cancelled"


def test_only_what_failed_or_was_cancelled_is_asked_for_again(db):
    person = make_person("planner")
    job = do(ask(count, by=person, of=7))
    with pytest.raises(JobRefused, match="Only a job that failed"):
        retry_job(job, by=person, at=LATER)
    other = ask(count, by=person, of=8)
    cancel_job(other, by=person, at=NOON)
    other.refresh_from_db()
    again = retry_job(other, by=person, at=LATER)
    assert again != other and again.params == {"of": 8} and again.stage == "waiting"


def test_a_sign_of_life_reaches_others_from_within_a_long_transaction(transactional_db):
    """On SQLite the transaction is the only writer, so that nobody else can take over the job either."""

    def work(run):
        with transaction.atomic():
            run.progress(1, 2, "Saving")
            Site.objects.exists()
            seen = connection.vendor != "postgresql" or _seen_elsewhere(run.job.pk)
            run.finish(Result("Saved." if seen else "Nobody saw it."))

    job = ask(work)
    run_waiting_job(job.pk, clock=lambda: LATER)
    job.refresh_from_db()
    assert (job.result, job.words, job.done) == ("Saved.", "Saving", 2)


def _seen_elsewhere(pk):
    """Return whether another connection sees the progress before long."""
    other = connection.copy()
    end = monotonic() + PATIENCE_S
    try:
        while monotonic() < end:
            with other.cursor() as cursor:
                cursor.execute("SELECT done, words FROM fleet_job WHERE id = %s", [pk])
                if cursor.fetchone() == (1, "Saving"):
                    return True
            sleep(0.1)
        return False
    finally:
        other.close()
