"""The server between the socket and Django: a slow client holds no thread, a body that is too large is not read."""

import socket
import threading
import time
from contextlib import ExitStack, contextmanager, suppress

import pytest
from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.task import ThreadedTaskDispatcher

from config.serving import channel
from config.serving.limits import FILE_BYTES, FRAME_BYTES, ORDINARY_BYTES, file_paths
from config.serving.middleware import REFUSED
from tests.services.programs import PATIENCE_S

FILE_PATH = sorted(file_paths())[0]
THREADS = 2


class Application:
    """Answers with the length of the body, or with why it was refused; remembers every request."""

    def __init__(self):
        self.requests = []

    def __call__(self, environ, start_response):
        body = environ["wsgi.input"].read()
        self.requests.append((environ["PATH_INFO"], len(body)))
        told = environ.get(REFUSED) or f"{len(body)} bytes"
        content = told.encode() if environ["PATH_INFO"] != "/long/" else bytes(8_000_000)
        status = "413 Content Too Large" if REFUSED in environ else "200 OK"
        start_response(status, [("Content-Length", str(len(content)))])
        return [content]


class Running:
    def __init__(self, server, application):
        self.server, self.application = server, application
        self.port = server.socket.getsockname()[1]

    def connect(self, sent=b""):
        client = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)
        client.sendall(sent)
        return client

    def ask(self, sent):
        with self.connect(sent) as client:
            return everything(client)


@contextmanager
def served(connection_limit=200):
    """A server in a thread of this process, with two threads for requests."""
    application, turn, stop = Application(), {}, threading.Event()
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.set_thread_count(THREADS)
    adjustments = Adjustments(
        listen="127.0.0.1:0", inbuf_overflow=ORDINARY_BYTES + 1, asyncore_use_poll=True,
        max_request_body_size=1 << 60, connection_limit=connection_limit, ident=None,
    )  # fmt: skip
    server = channel.Server(application, turn, dispatcher=dispatcher, adj=adjustments)

    def loop():
        while not stop.is_set():
            wasyncore.loop(timeout=0.02, use_poll=True, map=turn, count=1)
            server.close_overdue(time.time())

    thread = threading.Thread(target=loop)
    thread.start()
    try:
        yield Running(server, application)
    finally:
        stop.set()
        thread.join()
        wasyncore.close_all(turn)
        dispatcher.shutdown()


@pytest.fixture
def running():
    with served() as one:
        yield one


def until(holds):
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.02)


def everything(client):
    parts = []
    with suppress(ConnectionResetError):
        while part := client.recv(1 << 16):
            parts.append(part)
    return b"".join(parts).decode(errors="replace")


def post(path, length=None, body=b"", extra=""):
    size = "Transfer-Encoding: chunked" if length is None else f"Content-Length: {length}"
    head = f"POST {path} HTTP/1.1\r\nHost: x\r\n{size}\r\n{extra}\r\n"
    return head.encode() + body


GET = b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
UNFINISHED = {
    "nothing": b"",
    "half a header": b"GET / HTTP/1.1\r\nHost: x\r\n",
    "half a body": post("/login/", 1000, b"a" * 10),
    "half a chunk": post("/login/", None, b"100\r\nabc"),
}


@pytest.mark.parametrize("kind", UNFINISHED)
def test_any_number_of_unfinished_requests_holds_no_thread(running, kind):
    with ExitStack() as stack:
        for _ in range(20 * THREADS):
            stack.enter_context(running.connect(UNFINISHED[kind]))
        assert "0 bytes" in running.ask(GET)
    assert running.application.requests == [("/", 0)]


def test_those_who_do_not_read_their_answer_hold_no_thread(running):
    with ExitStack() as stack:
        for _ in range(10 * THREADS):
            stack.enter_context(running.connect(b"GET /long/ HTTP/1.1\r\nHost: x\r\n\r\n"))
        assert "0 bytes" in running.ask(GET)


@pytest.mark.parametrize("kind", UNFINISHED)
def test_an_unfinished_request_is_ended_after_its_time(running, kind, monkeypatch):
    monkeypatch.setattr(channel, "HEADER_S", 0.3)
    monkeypatch.setattr(channel, "BODY_S", 0.3)
    with running.connect(UNFINISHED[kind]) as client:
        assert everything(client) == ""


def test_a_drop_now_and_then_gains_no_time(running, monkeypatch):
    monkeypatch.setattr(channel, "HEADER_S", 0.4)
    with running.connect(b"GET / HTTP/1.1\r\n") as client, pytest.raises((BrokenPipeError, ConnectionResetError)):
        for _ in range(400):
            client.sendall(b"X: y\r\n")
            time.sleep(0.05)


def test_an_answer_that_nobody_takes_is_thrown_away(running, monkeypatch):
    monkeypatch.setattr(channel, "STALLED_S", 0.3)
    with running.connect(b"GET /long/ HTTP/1.1\r\nHost: x\r\n\r\n") as client:
        until(lambda: running.application.requests and not running.server.active_channels)
        assert len(everything(client)) < 8_000_000


def test_a_request_that_is_being_worked_on_is_never_overdue():
    now = time.time()
    one = channel.Channel.__new__(channel.Channel)
    one.requests, one.total_outbufs_len, one.request, one.since = [object()], 0, None, now - 10_000
    assert not one.is_overdue(now)
    one.requests = []
    assert one.is_overdue(now)


@pytest.mark.parametrize("length", [ORDINARY_BYTES + 1, 300_000_000, 1 << 59])
def test_a_body_that_is_too_large_is_answered_before_it_is_sent(running, length):
    answer = running.ask(post("/login/", length))
    assert answer.startswith("HTTP/1.1 413")
    assert "Connection: close" in answer
    assert f"{length:,} bytes; this address accepts at most {ORDINARY_BYTES:,} bytes" in answer
    assert running.application.requests == [("/login/", 0)]


def test_a_body_without_length_is_refused_when_it_passes_the_limit(running):
    chunk = b"%x\r\n%s\r\n" % (60_000, b"a" * 60_000)
    with running.connect(post("/login/")) as client, suppress(BrokenPipeError, ConnectionResetError):
        for _ in range(20):
            client.sendall(chunk)
        assert everything(client).startswith("HTTP/1.1 413")
    assert running.application.requests == [("/login/", 0)]


def test_who_sends_on_after_the_refusal_still_reads_it_and_is_then_cut_off(running, monkeypatch):
    monkeypatch.setattr(channel, "DRAIN_S", PATIENCE_S)
    with running.connect(post("/login/", 1_500_000)) as client:
        assert client.recv(12) == b"HTTP/1.1 413"
        for _ in range(5):
            time.sleep(0.1)
            client.sendall(bytes(100_000))
    monkeypatch.undo()
    sent = 0
    with running.connect(post("/login/", 300_000_000)) as client, suppress(BrokenPipeError, ConnectionResetError):
        for _ in range(300):
            sent += client.send(bytes(1_000_000))
    assert sent < 60_000_000


def test_the_largest_ordinary_body_arrives_whole_and_touches_no_disk(running, monkeypatch):
    monkeypatch.setattr("tempfile.TemporaryFile", None)
    assert f"{ORDINARY_BYTES} bytes" in running.ask(
        post("/login/", ORDINARY_BYTES, bytes(ORDINARY_BYTES), "Connection: close\r\n")
    )


@pytest.mark.parametrize("extra", ["", "Expect: 100-continue\r\n"])
@pytest.mark.parametrize("is_signed_in", [True, False])
def test_a_large_file_is_read_only_from_somebody_who_is_signed_in(running, monkeypatch, is_signed_in, extra):
    asked = []
    monkeypatch.setattr(channel, "own_connection", suppress)
    monkeypatch.setattr(channel, "may_send_large", lambda path, cookies, address: asked.append(cookies) or is_signed_in)
    head = post(FILE_PATH, 2_000_000, b"", f"Cookie: key=1\r\nConnection: close\r\n{extra}")
    with running.connect(head) as client:
        if extra and is_signed_in:
            assert client.recv(100).startswith(b"HTTP/1.1 100")
        if is_signed_in or not extra:
            with suppress(BrokenPipeError, ConnectionResetError):
                client.sendall(bytes(2_000_000))
        answer = everything(client)
    assert asked == ["key=1"]
    assert ("2000000 bytes" if is_signed_in else "people who are signed in") in answer
    assert running.application.requests == [(FILE_PATH, 2_000_000 if is_signed_in else 0)]


def test_a_file_beyond_the_largest_is_refused_without_asking_who_sends_it(running, monkeypatch):
    monkeypatch.setattr(channel, "may_send_large", None)
    assert running.ask(post(FILE_PATH, FILE_BYTES + FRAME_BYTES + 1)).startswith("HTTP/1.1 413")


def test_of_too_many_connections_those_that_waited_longest_make_room():
    with served(connection_limit=20) as running, ExitStack() as stack:
        for _ in range(60):
            stack.enter_context(running.connect(b"GET / HTTP/1.1\r\n"))
        assert "0 bytes" in running.ask(GET)


def test_two_requests_on_one_connection_are_answered_in_their_order(running):
    sent = post("/a/", 3, b"abc") + post("/b/", 1, b"a", "Connection: close\r\n")
    answer = running.ask(sent)
    assert answer.index("3 bytes") < answer.index("1 bytes")
