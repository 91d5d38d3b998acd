"""Find programs, free ports, and start and stop the processes of a test."""

import contextlib
import shutil
import socket
import subprocess
import time
from pathlib import Path

PATIENCE_S = 120  # for a computer that is slow and stands still now and then; normally nothing waits this long


class Missing(Exception):
    """A program that a test needs is not installed."""


def find_program(name: str, *, package: str, folders: tuple[str, ...] = ()) -> str:
    """Return the path of a program, newest of the globbed folders first. Raise Missing with the Debian package."""
    for pattern in folders:
        found = sorted(Path("/").glob(f"{pattern.lstrip('/')}/{name}"), key=_version_in_path)
        if found:
            return str(found[-1])
    path = shutil.which(name)
    if path is None:
        raise Missing(f"{name} is not installed (Debian package {package})")
    return path


def _version_in_path(path: Path) -> tuple[int, ...]:
    return tuple(int(part) for part in path.parts if part.isdigit())


def free_port() -> int:
    """Return a port of the loopback address that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_until(is_ready, *, what: str, log: Path, process: subprocess.Popen, seconds: float = PATIENCE_S) -> None:
    """Return as soon as is_ready() holds. Raise RuntimeError with the end of the log if that never happens."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if process.poll() is not None:
            break
        if is_ready():
            return
        time.sleep(0.05)
    raise RuntimeError(f"{what} did not start within {seconds:.0f} s:\n{log.read_text(errors='replace')[-3000:]}")


def listens(port: int) -> bool:
    """Return whether something accepts connections on the loopback address at this port."""
    with socket.socket() as client:
        client.settimeout(0.5)
        return client.connect_ex(("127.0.0.1", port)) == 0


@contextlib.contextmanager
def running(command: list[str], *, log: Path, env: dict | None = None, cwd: Path | None = None):
    """Yield the started process; stop it at the end, by force after ten seconds."""
    with log.open("ab") as output:
        process = subprocess.Popen(command, stdout=output, stderr=subprocess.STDOUT, env=env, cwd=cwd)
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
