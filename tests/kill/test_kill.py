"""A short kill run, and proof that it would detect faults."""

import os
import subprocess
import sys

import psycopg
import pytest

from tests.kill.checks import photograph_troubles, reading_troubles, signature_troubles
from tests.services.bench_work import Entered
from tests.services.bobbin import ROOT
from tests.services.processes import Part, children_of, is_alive


def test_four_kills_lose_no_acknowledged_reading_double_no_job_and_leave_the_chain_whole(postgresql_cluster, redis_url):
    """The fixtures skip it by name where PostgreSQL or Redis is missing; the run starts its own."""
    command = [sys.executable, "-m", "tests.kill", "--rounds", "4", "--seed", "3", "--technicians", "2"]
    done = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, timeout=2400)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "troubles: none" in done.stdout
    assert "all as signed" in done.stdout
    assert " 0 readings" not in done.stdout and " 0 signatures" not in done.stdout


@pytest.fixture
def tables(postgresql_url):
    """The tables that the checks read: a reading stored once, one twice, a signed inspection, two photographs."""
    with psycopg.connect(postgresql_url, autocommit=True) as database:
        database.execute(
            'CREATE TABLE inspections_reading (step_id int, field text, "row" int, "column" text, as_read text, '
            "unit text, entered_by_id int)"
        )
        rows = [(1, "falling", 0, "flow", "4", "L/min", 7), *[(1, "set_flow", 0, "", "5", "L/min", 7)] * 2]
        for row in rows:
            database.execute("INSERT INTO inspections_reading VALUES (%s, %s, %s, %s, %s, %s, %s)", row)
        database.execute("CREATE TABLE inspections_inspection AS SELECT 1 AS id, 'signed' AS stage")
        database.execute("CREATE TABLE inspections_signedrecord AS SELECT 1 AS inspection_id")
        database.execute("CREATE TABLE inspections_photograph (step_id int, caption text, content bytea)")
        database.execute("INSERT INTO inspections_photograph VALUES (1, 'hose', '1'), (1, 'empty', NULL)")
    return postgresql_url


def test_a_reading_that_is_there_once_is_no_trouble_and_one_lost_or_kept_twice_is(tables):
    good = Entered(1, "falling.0.flow", "4", "L/min", 7)
    doubled = Entered(1, "set_flow", "5", "L/min", 7)
    lost = Entered(1, "falling.0.flow", "4.1", "L/min", 7)
    troubles = reading_troubles(tables, [good, doubled, lost])
    assert [trouble.split(":")[0] for trouble in troubles] == ["reading lost", "reading kept 2 times"]
    assert "4.1" in troubles[0]


def test_a_signature_without_its_record_is_a_trouble(tables):
    assert signature_troubles(tables, [1]) == []
    assert signature_troubles(tables, [1, 2]) == ["inspection 2 was signed: None"]


def test_a_photograph_that_is_missing_or_has_no_picture_is_a_trouble(tables):
    assert photograph_troubles(tables, [(1, "hose"), (1, "empty")]) != []
    troubles = photograph_troubles(tables, [(1, "hose"), (1, "lost")])
    assert [words for words in ("lost", "empty") if any(words in one for one in troubles)] == ["lost", "empty"]
    assert not any("hose" in one for one in troubles)


def test_a_part_that_was_killed_is_started_again_in_a_new_process(tmp_path):
    class Whole:
        def random(self):
            return 1.0

    program = "import subprocess, sys; subprocess.run([sys.executable, '-c', 'import time; time.sleep(60)'])"
    part = Part("sleeper", [sys.executable, "-c", program], folder=tmp_path, is_ready=lambda: True)
    part.start()
    try:
        while not (children := children_of(part.process.pid)):
            assert part.process.poll() is None
        first = part.process.pid
        assert part.kill(Whole()) == "all of it"
        assert part.process.pid != first and is_alive(part.process.pid)
        assert not any(map(is_alive, [first, *children]))
    finally:
        part.kill(Whole())
        part.stop()
