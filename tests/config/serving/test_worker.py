"""Gunicorn as `make serve` starts it: slow clients and hostile files beside ordinary people, and how it ends."""

import os
import shutil
import signal
import socket
import threading
import time
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest

from config.serving.parent import WEB
from tests.factories import PASSWORD
from tests.fleet.register_file.hostile import merged, pdfs
from tests.services.bobbin import ROOT, manage
from tests.services.processes import children_of, is_alive
from tests.services.programs import PATIENCE_S, free_port, listens, running, wait_until
from tests.services.visitor import FAILURES, Visitor

PAPER, IMPORT = "/library/verify/paper/", "/machines/import/"


@pytest.fixture(scope="module")
def environment(tmp_path_factory, migrated_sqlite):
    folder = tmp_path_factory.mktemp("web")
    shutil.copy(migrated_sqlite, folder / "bobbin.sqlite3")
    (folder / "static").mkdir()
    own = {"DATA_DIR": str(folder), "DATABASE_URL": f"sqlite:///{folder / 'bobbin.sqlite3'}", "TRUSTED_PROXY": "yes"}
    person = {"DJANGO_SUPERUSER_PASSWORD": PASSWORD, "DJANGO_SUPERUSER_USERNAME": "nora"}
    manage("createsuperuser", "--noinput", "--email=", **own, **person)
    return os.environ | own


class Web:
    def __init__(self, process, port, log):
        self.process, self.port, self.log = process, port, log
        self.address = f"http://127.0.0.1:{port}"

    def processes(self):
        """Return every process that it started."""
        found, waiting = [], [self.process.pid]
        while waiting:
            waiting += children_of(waiting[0])
            found.append(waiting.pop(0))
        return found


@pytest.fixture
def web(environment, tmp_path):
    port, log = free_port(), tmp_path / "log"
    command = [*WEB, "--bind", f"127.0.0.1:{port}", "--no-control-socket"]
    with running(command, log=log, env=environment, cwd=ROOT) as process:
        wait_until(lambda: listens(port), what="gunicorn", log=log, process=process)
        yield Web(process, port, log)


def until(holds, seconds=PATIENCE_S):
    end = time.monotonic() + seconds
    while time.monotonic() < end and not holds():
        time.sleep(0.05)
    return holds()


def signed_in(web):
    visitor = Visitor(web.address, timeout=PATIENCE_S)
    visitor.log_in("nora", PASSWORD)
    return visitor


def test_an_ordinary_page_answers_beside_unfinished_requests_and_hostile_files(web):
    visitor = signed_in(web)
    with ExitStack() as stack:
        for start in (b"", b"GET / HTTP/1.1\r\n", b"POST /login/ HTTP/1.1\r\nHost: x\r\nContent-Length: 99\r\n\r\na"):
            for _ in range(20):
                client = stack.enter_context(socket.create_connection(("127.0.0.1", web.port)))
                client.sendall(start)
        answer = visitor.send_file(IMPORT, merged(300_000), kind="machines")
        page = visitor.get(answer.location)
        assert "merged ranges" in page.text or "/jobs/" in answer.location
        assert visitor.get("/machines/").status == 200


def test_nothing_that_is_refused_is_kept_on_the_disk(web, tmp_path):
    before = open_files(web)
    with socket.create_connection(("127.0.0.1", web.port), timeout=PATIENCE_S) as client, suppress(OSError):
        head = "POST /login/ HTTP/1.1\r\nHost: x\r\nContent-Type: multipart/form-data; boundary=x\r\n"
        client.sendall(f"{head}Content-Length: 300000000\r\n\r\n".encode())
        for _ in range(20):
            client.sendall(bytes(100_000))
            assert open_files(web) - before == set()


def open_files(web):
    """Return the deleted files that the processes hold open, where a body would be buffered."""
    found = set()
    for pid in web.processes():
        for link in Path(f"/proc/{pid}/fd").iterdir():
            with suppress(OSError):
                found.add((pid, os.readlink(link)))
    return {(pid, name) for pid, name in found if name.endswith("(deleted)") and "wgunicorn" not in name}


def test_the_protocol_that_a_trusted_proxy_states_reaches_the_application(environment, tmp_path):
    port, log = free_port(), tmp_path / "log"
    command = [*WEB, "--bind", f"127.0.0.1:{port}", "--no-control-socket"]
    with running(command, log=log, env=environment | {"SSL_REDIRECT": "yes"}, cwd=ROOT) as process:
        wait_until(lambda: listens(port), what="gunicorn", log=log, process=process)
        visitor = Visitor(f"http://127.0.0.1:{port}")
        assert visitor.get("/login/").status == 301
        assert visitor._ask("GET", "/login/", headers={"X-Forwarded-Proto": "https"}).status == 200


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_no_process_outlives_a_server_that_is_ended_while_it_reads_a_file(web, number):
    visitor = signed_in(web)
    paper = pdfs()["millions of words"]

    def check():
        with suppress(*FAILURES):
            visitor.send_file(PAPER, paper)

    check_it = threading.Thread(target=check)
    check_it.start()
    assert until(lambda: len(web.processes()) >= 4)  # gunicorn, its worker, the helper and the child that reads
    everything = web.processes()
    web.process.send_signal(number)
    assert web.process.wait(timeout=PATIENCE_S) == (0 if number == signal.SIGTERM else -number)
    assert until(lambda: not any(map(is_alive, everything)))
    check_it.join(timeout=PATIENCE_S)


def test_a_request_under_way_is_answered_before_the_server_ends(web):
    with socket.create_connection(("127.0.0.1", web.port), timeout=PATIENCE_S) as idle:
        idle.sendall(b"GET / HTTP/1.1\r\n")
        visitor = signed_in(web)
        answers = []
        asking = threading.Thread(target=lambda: answers.append(visitor.get("/machines/").status))
        asking.start()
        asking.join(timeout=PATIENCE_S)
        web.process.send_signal(signal.SIGTERM)
        assert web.process.wait(timeout=PATIENCE_S) == 0
        assert idle.recv(100) == b""
    assert answers == [200]
    assert "Traceback" not in web.log.read_text()
