"""A connection to servers that can be cut, and that can carry a request and lose its answer."""

import contextlib
import itertools
import socket
import threading

from tests.services.programs import PATIENCE_S

THROUGH, CUT, DEAF = "through", "cut", "deaf"
BLOCK = 65536


class Cable:
    """Listens at a port of its own and carries every connection to one of the servers at `targets`, by turns.

    A server that takes no connection is passed over, so that the next one answers: the small proxy before two nodes.

    mode  THROUGH; CUT: every connection is closed; DEAF: requests arrive, and no answer comes back
    """

    def __init__(self, *targets: int):
        self.targets, self.turn, self.mode = targets, itertools.count(), THROUGH
        self.open, self.lock = set(), threading.Lock()
        self.listener = socket.create_server(("127.0.0.1", 0), backlog=50)
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def set(self, mode: str) -> None:
        """Change the mode; a cable that is cut ends what is on its way."""
        self.mode = mode
        if mode != THROUGH:
            with self.lock:
                ending = list(self.open)
            if mode == CUT:
                for one in ending:
                    _close(one)

    def close(self) -> None:
        self.set(CUT)
        self.listener.close()

    def _accept(self):
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            if self.mode == CUT:
                _close(near)
                continue
            far = self._reach()
            if far is None:
                _close(near)
                continue
            with self.lock:
                self.open |= {near, far}
            threading.Thread(target=self._carry, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self._carry, args=(far, near, True), daemon=True).start()

    def _reach(self):
        """Return a connection to the first server, from the one whose turn it is, that takes one; None without any."""
        first = next(self.turn)
        for number in range(len(self.targets)):
            port = self.targets[(first + number) % len(self.targets)]
            with contextlib.suppress(OSError):
                far = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
                far.settimeout(None)  # an answer may take as long as it takes
                return far
        return None

    def _carry(self, source, sink, is_answer):
        with contextlib.suppress(OSError):
            while block := source.recv(BLOCK):
                if is_answer and self.mode == DEAF:
                    break  # the request was carried out, and its answer is lost
                sink.sendall(block)
        for one in (source, sink):
            _close(one)
        with self.lock:
            self.open -= {source, sink}


def _close(one):
    with contextlib.suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    with contextlib.suppress(OSError):
        one.close()
