"""A connection to a server that can be cut, and that can carry a request and lose its answer."""

import contextlib
import socket
import threading

THROUGH, CUT, DEAF = "through", "cut", "deaf"
BLOCK = 65536


class Cable:
    """Listens at a port of its own and carries every connection to the server at `target`.

    mode  THROUGH; CUT: every connection is closed; DEAF: requests arrive, and no answer comes back
    """

    def __init__(self, target: int):
        self.target, self.mode = target, THROUGH
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
            try:
                far = socket.create_connection(("127.0.0.1", self.target), timeout=30)
            except OSError:
                _close(near)
                continue
            with self.lock:
                self.open |= {near, far}
            threading.Thread(target=self._carry, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self._carry, args=(far, near, True), daemon=True).start()

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
