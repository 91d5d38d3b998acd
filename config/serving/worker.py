"""The gunicorn worker of Bobbin: gunicorn manages the processes, waitress reads and writes for the threads of each.

Gunicorn's own threaded worker gives a connection a thread before its request has arrived, so that a few slow clients
hold all threads. In gevent's loop SQLite would block; an ASGI server would run the same threads."""

import logging
import os
import resource
import time

from gunicorn.workers.base import Worker
from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.task import ThreadedTaskDispatcher

from config.serving.body_sizes import ORDINARY_BYTES
from fleet.confined import stop_all

LOOP_S = 1.0
LOOK_S = 0.5
MOST_CONNECTIONS = 1000
FILES_FOR_EACH = 3  # files of a connection: socket, request and answer, where those are too large for memory
SPARE_FILES = 100
HEADER_BYTES = 32 * 1024
END_S = 5.0


class BufferingWorker(Worker):
    """Serves with `--threads` threads, and refuses requests that arrive too slowly or are too large."""

    def run(self):
        # Imported once Django is set up: the limits name addresses of Bobbin.
        from config.serving.channel import Server

        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        self.map, self.looked_at = {}, 0.0
        dispatcher = ThreadedTaskDispatcher()
        dispatcher.set_thread_count(self.cfg.threads)
        self.servers = [self._server(Server, one.sock, dispatcher) for one in self.sockets]
        while self.alive and self.ppid == os.getppid():
            self._turn()
            if sum(server.answered for server in self.servers) >= self.max_requests:
                self.log.info("Autorestarting worker after current request.")
                break
        self._end(dispatcher)

    def _server(self, server, sock, dispatcher):
        sock.setblocking(False)
        return server(
            self.wsgi, self.map, _sock=sock, dispatcher=dispatcher, bind_socket=False, adj=self._adjustments(),
            sockinfo=(sock.family, sock.type, sock.proto, sock.getsockname()),
        )  # fmt: skip

    def _adjustments(self):
        return Adjustments(
            connection_limit=connection_limit(),
            max_request_header_size=HEADER_BYTES,
            # channel.py has the limit of each address; a body of ordinary size is never written to disk.
            max_request_body_size=1 << 60,
            inbuf_overflow=ORDINARY_BYTES + 1,
            asyncore_use_poll=True,
            # TRUSTED_PROXY in Django's settings decides whether X-Forwarded-Proto counts.
            clear_untrusted_proxy_headers=False,
            log_socket_errors=False,
            backlog=self.cfg.backlog,
            ident=None,
        )

    def _turn(self):
        self.notify()
        wasyncore.loop(timeout=LOOP_S, use_poll=True, map=self.map, count=1)
        now = time.time()
        if abs(now - self.looked_at) >= LOOK_S:
            self.looked_at = now
            for server in self.servers:
                server.close_overdue(now)

    def _end(self, dispatcher):
        """Accept no new request, let running ones end within gunicorn's time limit, and stop the rest."""
        for server in self.servers:
            server.stop_accepting()
        if not self.alive or self.ppid != os.getppid():
            stop_all()
        end = time.monotonic() + self.cfg.graceful_timeout
        while sum(server.close_waiting() for server in self.servers) and time.monotonic() < end:
            self._turn()
        stop_all()
        dispatcher.shutdown(timeout=END_S)


def connection_limit() -> int:
    """Raise the limit of open files and return how many connections one process accepts."""
    allowed, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_CONNECTIONS * FILES_FOR_EACH + SPARE_FILES
    if allowed < wanted:
        allowed = min(wanted, most)
        resource.setrlimit(resource.RLIMIT_NOFILE, (allowed, most))
    return min(MOST_CONNECTIONS, max(1, (allowed - SPARE_FILES) // FILES_FOR_EACH))
