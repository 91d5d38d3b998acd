"""A throwaway PostgreSQL cluster in a temporary folder, reachable on the loopback address only."""

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

import psycopg

from tests.services.programs import Missing, find_program, free_port, listens, running, wait_until

BIN_FOLDERS = ("/usr/lib/postgresql/*/bin",)
# The data are temporary, so nothing waits for the disk.
FAST = [
    "fsync=off",
    "synchronous_commit=off",
    "full_page_writes=off",
    "max_connections=60",
    "shared_buffers=128MB",
]


@contextlib.contextmanager
def postgresql(options=FAST, password_file: Path | None = None):
    """Yield the DATABASE_URL of a new cluster. Raise Missing if PostgreSQL is not installed."""
    with (
        cluster(options, password_file) as (command, url),
        tempfile.TemporaryDirectory(prefix="bobbin-pg-log-") as folder,
    ):
        log = Path(folder) / "log"
        with running(command, log=log, cwd=Path("/")) as process:
            wait_until(lambda: answers(url), what="PostgreSQL", log=log, process=process)
            yield url


@contextlib.contextmanager
def cluster(options: list[str], password_file: Path | None = None, *, user: str = "bobbin"):
    """Yield the command that starts a new cluster and its DATABASE_URL; the cluster is removed at the end.

    password_file  holds the required password; without it every local user has access
    """
    programs = {name: find_program(name, package="postgresql", folders=BIN_FOLDERS) for name in ("initdb", "postgres")}
    folder = Path(tempfile.mkdtemp(prefix="bobbin-pg-"))
    try:
        as_owner = _run_as_owner(folder)
        initdb = [programs["initdb"], "-D", str(folder / "data"), "-U", user, *_let_in(folder, password_file)]
        subprocess.run(
            [*as_owner, *initdb, "-E", "UTF8", "--no-sync", "--locale=C.UTF-8"],
            check=True, capture_output=True, cwd=folder,
        )  # fmt: skip
        port = free_port()
        command = [*as_owner, programs["postgres"], "-D", str(folder / "data"), "-p", str(port), "-h", "127.0.0.1"]
        command += [part for option in [*options, "unix_socket_directories="] for part in ("-c", option)]
        password = f":{password_file.read_text().strip()}" if password_file else ""
        yield command, f"postgres://{user}{password}@127.0.0.1:{port}/postgres"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _let_in(folder: Path, password_file: Path | None) -> list[str]:
    if password_file is None:
        return ["-A", "trust"]
    copy = folder / "password"
    copy.write_text(password_file.read_text())
    copy.chmod(0o644)
    return ["-A", "scram-sha-256", f"--pwfile={copy}"]


def _run_as_owner(folder: Path) -> list[str]:
    """PostgreSQL refuses to run as root: give the folder to the user of the Debian package, and run as that user."""
    if os.geteuid() != 0:
        return []
    try:
        owner = pwd.getpwnam("postgres")
    except KeyError:
        raise Missing("the user postgres does not exist (Debian package postgresql)") from None
    os.chown(folder, owner.pw_uid, owner.pw_gid)
    setpriv = find_program("setpriv", package="util-linux")
    return [setpriv, f"--reuid={owner.pw_uid}", f"--regid={owner.pw_gid}", "--clear-groups", "--"]


def answers(url: str) -> bool:
    """Return whether a server at this DATABASE_URL accepts a client."""
    if not listens(urlsplit(url).port):
        return False
    try:
        psycopg.connect(url, connect_timeout=2).close()
    except psycopg.OperationalError:
        return False
    return True
