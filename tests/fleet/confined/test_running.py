"""Reading in a separate process: every limit holds, its message is clear, and the process ends with its parent."""

import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress

import pytest

from fleet.confined import Busy, Exceeded, Limits, run_confined, starting, stop_all
from fleet.confined.limits import MIB, Turns
from tests.services.bobbin import ROOT
from tests.services.processes import is_alive
from tests.services.programs import PATIENCE_S

LIMITS = Limits(cpu_s=20, wall_s=600.0, memory_bytes=200 * MIB, answer_bytes=MIB)
HUNGRY = "tests.fleet.confined.hungry:"


def run(name, *arguments, limits=LIMITS, **asked):
    return run_confined(HUNGRY + name, *arguments, limits=limits, **asked)


def limits(**changed):
    return Limits(**{"cpu_s": 20, "wall_s": 600.0, "memory_bytes": 200 * MIB, "answer_bytes": MIB} | changed)


def wait_until(holds, seconds=PATIENCE_S):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.02)
    return False


def test_the_function_asks_and_its_return_value_comes_back():
    assert run("answer", 20, answer=lambda value: value + 1) == 21


@pytest.mark.parametrize(
    ("name", "changed", "words"),
    [
        ("spin", {"cpu_s": 1}, "1 seconds of computing"),
        ("spin_in_vain_to_catch", {"cpu_s": 1}, "1 seconds of computing"),
        ("sleep", {"wall_s": 0.3}, "0.3 seconds"),
        ("grow", {"memory_bytes": 100 * MIB}, "100 MB of memory"),
        ("die", {}, "20 seconds of computing or 200 MB of memory"),
    ],
)
def test_what_takes_more_than_its_limit_is_ended_with_the_limit_named(name, changed, words):
    with pytest.raises(Exceeded) as exceeded:
        run(name, limits=limits(**changed))
    assert str(exceeded.value) == f"Reading the file took more than {words}."


def test_an_answer_that_is_too_long_is_not_taken():
    assert len(run("talk", MIB // 2)) == MIB // 2
    with pytest.raises(Exceeded, match="1 MB for its contents"):
        run("talk", 2 * MIB)


def test_an_error_of_the_function_shows_its_kind_and_not_its_words():
    with pytest.raises(RuntimeError, match="^fail raised ValueError$"):
        run("fail")


def test_what_the_answer_or_the_pulse_raises_passes_and_ends_the_process():
    pids = []

    def tell(pid):
        pids.append(pid)
        raise KeyError("cancelled")

    with pytest.raises(KeyError):
        run("sleep_after_telling", answer=tell)
    assert wait_until(lambda: not is_alive(pids[0]))

    def pulse():
        raise LookupError("stopped")

    with pytest.raises(LookupError):
        run("sleep", pulse=pulse)


def test_it_gets_no_secret_writes_no_file_and_yields_to_ordinary_work(monkeypatch):
    monkeypatch.setenv("SECRET_KEY", "not for a file from outside")
    starting._nursery._start()
    names, may_write, niceness = run("rights")
    assert set(names) <= {*starting.KEPT, "OPENBLAS_NUM_THREADS", "LC_CTYPE"}
    assert not may_write
    assert niceness >= 10


def test_a_helper_that_was_killed_is_started_again():
    run("answer", 1, answer=abs)
    starting._nursery.process.kill()
    starting._nursery.process.wait()
    assert run("answer", 1, answer=abs) == 1


def test_stopping_ends_everything_that_is_being_read():
    ended, pids = [], []

    def read():
        try:
            run("sleep_after_telling", answer=pids.append)
        except Exceeded as exceeded:
            ended.append(exceeded.what)

    reader = threading.Thread(target=read)
    reader.start()
    assert wait_until(lambda: pids)
    stop_all()
    reader.join(timeout=PATIENCE_S)
    assert ended == ["the time that was left before Bobbin was stopped"]
    assert wait_until(lambda: not is_alive(pids[0]))


def test_one_reads_some_wait_a_moment_and_the_rest_are_refused_at_once():
    turns = Turns(waiting=1, patience_s=0.05)
    held, go = threading.Event(), threading.Event()

    def hold():
        with turns.taken():
            held.set()
            go.wait(PATIENCE_S)

    holder = threading.Thread(target=hold)
    holder.start()
    assert held.wait(PATIENCE_S)
    with pytest.raises(Busy), turns.taken():
        pass
    turns._present.acquire()
    with pytest.raises(Busy), turns.taken():
        pass
    turns._present.release()
    go.set()
    holder.join()
    with turns.taken():
        pass


PARENT = """
import sys
from tests.fleet.confined.test_running import run
run("sleep_after_telling", answer=lambda pid: print(pid, flush=True))
"""


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_it_ends_with_its_parent_however_that_ends(number):
    parent = subprocess.Popen([sys.executable, "-c", PARENT], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    child = 0
    try:
        child = int(parent.stdout.readline())
        time.sleep(0.5)  # until it sleeps
        assert is_alive(child)
        parent.send_signal(number)
        parent.wait()
        assert wait_until(lambda: not is_alive(child))
    finally:
        parent.kill()
        parent.wait()
        parent.stdout.close()
        if child and is_alive(child):
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
