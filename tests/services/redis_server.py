"""A Redis server on a free port, that writes nothing to disk unless its options say so."""

import contextlib
import tempfile
from pathlib import Path

from tests.services.programs import find_program, free_port, listens, running, wait_until


@contextlib.contextmanager
def redis_server(options=("--save", "")):
    """Yield the REDIS_URL of a new server, given these options. Raise Missing when redis-server is not here."""
    program = find_program("redis-server", package="redis-server")
    with tempfile.TemporaryDirectory(prefix="bobbin-redis-") as folder:
        port = free_port()
        command = redis_command(program, port, folder, options)
        log = Path(folder) / "log"
        with running(command, log=log) as process:
            wait_until(lambda: listens(port), what="Redis", log=log, process=process)
            yield f"redis://127.0.0.1:{port}/0"


def redis_command(program, port, folder, options=("--save", "")):
    return [program, "--port", str(port), "--bind", "127.0.0.1", "--dir", str(folder), *options]
