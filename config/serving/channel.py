"""Buffered requests and answers: waitress, with limits of time and size for every part of a request.

One loop reads what arrives and sends what is ready. A thread gets a request only when all of it has arrived, and is
free again when its answer is in the buffer, so that a slow client never holds a thread.
"""

import socket
import time

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import TcpWSGIServer
from waitress.task import WSGITask

from config.serving.limits import ORDINARY_BYTES, limit_of, may_send_large, not_admitted, own_connection, too_long
from config.serving.middleware import ADMITTED, REFUSED
from fleet.web.client_address import client_address

HEADER_S = 15  # from the connection, or the end of the last answer, to the end of the next header
BODY_S = 20  # from the end of the header to the end of the body, and a second more for each SLOWEST bytes
SLOWEST = 64 * 1024
STALLED_S = 30  # an answer of which the client reads nothing
ANSWER_S = 600  # an answer as a whole
DRAIN_S = 2  # what a refused client still sends is discarded this long, so that it reads the answer
DRAIN_BYTES = 2 * 1024 * 1024
CROWDED = 0.75  # share of the connections of a process beyond which those that wait longest are closed


class Parser(HTTPRequestParser):
    """One request. `refusal` says why its body is not read; `asks_leave` is True until the sender is known, and
    `is_granted` once a large body is accepted.
    """

    refusal = None
    asks_leave = False
    is_granted = False
    waits_for_continue = False
    header_at = None
    limit = ORDINARY_BYTES

    def received(self, data):
        was_header = not self.headers_finished
        consumed = super().received(data)
        if self.error or self.empty:
            return consumed
        if was_header and self.headers_finished:
            self._weigh()
        elif self.body_bytes_received > self.limit:
            self.refuse(too_long(self.plain_path))
        return consumed

    @property
    def plain_path(self):
        return "/" + self.path.lstrip("/")

    def _weigh(self):
        self.header_at = time.time()
        self.limit = limit_of(self.plain_path)
        if self.content_length > self.limit:
            self.refuse(too_long(self.plain_path, self.content_length))
        elif self.limit > ORDINARY_BYTES and (self.chunked or self.content_length > ORDINARY_BYTES):
            self.asks_leave = True
            self.waits_for_continue, self.expect_continue = self.expect_continue, False

    def grant(self):
        """Accept the body."""
        self.is_granted = True
        self.asks_leave, self.expect_continue = False, self.waits_for_continue

    def refuse(self, sentence):
        """Stop reading: the request is answered without its body, and its connection is closed after the answer."""
        if self.body_rcv is not None:
            self.body_rcv.getbuf().close()
        self.body_rcv = None
        self.refusal, self.asks_leave, self.expect_continue = sentence, False, False
        self.headers["CONTENT_LENGTH"], self.headers["CONNECTION"] = "0", "close"
        self.completed = True

    def is_overdue(self, since, now):
        """Whether the header, awaited since `since`, or the body takes too long."""
        if self.header_at is None:
            return now - since > HEADER_S
        return now - self.header_at > BODY_S + max(self.content_length, self.body_bytes_received) / SLOWEST


class Task(WSGITask):
    def get_environment(self):
        environ = super().get_environment()
        if self.request.refusal:
            environ[REFUSED] = self.request.refusal
        if self.request.is_granted:
            environ[ADMITTED] = True
        return environ


class Channel(HTTPChannel):
    """One connection."""

    parser_class = Parser
    task_class = Task
    asking = False  # a thread looks up whether the sender of a large body is signed in
    lingers = False  # the body of a request is refused
    draining_since = None
    drained = 0

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.since = self.creation_time

    def readable(self):
        return self.draining_since is not None or (not self.asking and super().readable())

    def writable(self):
        return self.draining_since is None and super().writable()

    def received(self, data):
        is_taken = super().received(data)
        with self.requests_lock:
            self.lingers = self.lingers or any(request.refusal for request in self.requests)
            if self.request is not None and self.request.asks_leave and not self.asking:
                self.asking = True
                self.server.add_task(Leave(self))
        return is_taken

    def decide(self, may_send):
        """Continue with the request whose body waited for the look-up. Called by a thread."""
        with self.requests_lock:
            if may_send:
                self.request.grant()
                if self.request.expect_continue and not self.requests:
                    self.send_continue()
            else:
                self.request.refuse(not_admitted(self.request.plain_path))
                self._queue_refused()
            self.asking = False
        self.server.pull_trigger()

    def _queue_refused(self):
        self.lingers = True
        self.requests.append(self.request)
        self.request = None
        if len(self.requests) == 1:
            self.server.add_task(self)

    def service(self):
        super().service()
        self.since = time.time()
        self.server.answered += 1

    @property
    def is_at_work(self):
        """Whether a request is being answered or an answer is on its way."""
        return bool(self.requests or self.total_outbufs_len or self.asking)

    def is_overdue(self, now):
        """Whether the client takes too long."""
        if self.draining_since is not None:
            return now - self.draining_since > DRAIN_S
        if self.total_outbufs_len:
            return now - self.last_activity > STALLED_S or now - self.since > ANSWER_S
        if self.requests or self.asking:
            return False
        return self.request.is_overdue(self.since, now) if self.request else now - self.since > HEADER_S

    def handle_read(self):
        if self.draining_since is None:
            return super().handle_read()
        try:
            self.drained += len(self.recv(1 << 16))
        except OSError:
            self.drained = DRAIN_BYTES
        if self.drained >= DRAIN_BYTES and self.connected:
            self.handle_close()

    def handle_close(self):
        if self.lingers and self.draining_since is None and self.connected and self._starts_draining():
            return
        super().handle_close()

    def _starts_draining(self):
        """Send the end of the answer but continue reading: closing at once would discard an answer not yet read."""
        try:
            self.socket.shutdown(socket.SHUT_WR)
        except OSError:
            return False
        self.draining_since = time.time()
        return True


class Leave:
    """The look-up that a large body waits for; run by a thread, because it queries the database."""

    def __init__(self, channel):
        self.channel = channel

    def service(self):
        may_send = False
        try:
            with own_connection():
                may_send = self._is_admitted()
        finally:
            self.channel.decide(may_send)

    def _is_admitted(self):
        request, connected = self.channel.request, self.channel.addr
        remote = connected[0] if isinstance(connected, tuple) else ""
        address = client_address(remote, request.headers.get("X_FORWARDED_FOR", ""))
        return may_send_large(request.plain_path, request.headers.get("COOKIE", ""), address)

    def cancel(self):
        self.channel.cancel()


class Server(TcpWSGIServer):
    """The loop of one process. `answered` counts its requests."""

    channel_class = Channel
    answered = 0

    def close_overdue(self, now):
        """Close connections that take too long; if there are too many, those that have waited longest.

        Call it between two turns of the loop: within a turn, a new socket may reuse the number of a closed one.
        """
        channels = list(self.active_channels.values())
        waiting = [channel for channel in channels if not channel.is_at_work and channel.draining_since is None]
        surplus = max(0, len(channels) - int(CROWDED * self.adj.connection_limit))
        crowded_out = sorted(waiting, key=lambda channel: channel.since)[:surplus]
        for channel in {*crowded_out, *(one for one in channels if one.is_overdue(now))}:
            channel.lingers = False
            channel.handle_close()

    def stop_accepting(self):
        self.accepting = False
        self.del_channel()

    def close_waiting(self):
        """Close every idle connection; return how many are left."""
        for channel in list(self.active_channels.values()):
            if not channel.is_at_work:
                channel.lingers = False
                channel.handle_close()
        return len(self.active_channels)
