"""Time of ordinary pages during an attack, in both ways of running Bobbin.

    python -m tests.benchmarks.bench_attacks [--seconds 6] [--way serve|served]

serve is what `make serve` starts, on SQLite; served is gunicorn with two processes on PostgreSQL, and Redis. Server,
attack and ordinary people all run on this machine.
"""

import argparse
import contextlib
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

PAGES = ("/", "/machines/", "/inspections/", "/login/", "/library/procedures/")
PEOPLE = 3
UPLOADERS = 4
UNFINISHED = b"GET / HTTP/1.1\r\nHost: x\r\n"
HALF_A_BODY = b"POST /login/ HTTP/1.1\r\nHost: x\r\nContent-Length: 100000\r\n\r\n"
FORM = b"Content-Type: multipart/form-data; boundary=x"
LARGE = b"POST /login/ HTTP/1.1\r\nHost: x\r\n" + FORM + b"\r\nContent-Length: 300000000\r\n\r\n"
WAYS = ("serve", "served")


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.bench_attacks", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--seconds", type=float, default=6, help="how long each attack lasts, default 6")
    parser.add_argument("--way", choices=WAYS, help="one way only; default both")
    options = parser.parse_args()
    if options.way is None:  # Django is set up once in a process, so each way has its own
        command = [sys.executable, "-m", "tests.benchmarks.bench_attacks", "--seconds", str(options.seconds), "--way"]
        return max(subprocess.run([*command, way]).returncode for way in WAYS)
    with {"serve": serve, "served": served}[options.way]() as address, tempfile.TemporaryDirectory() as folder:
        people = setting(Path(folder))
        return report(options.way, address, people, options.seconds)


@contextlib.contextmanager
def serve():
    """Bobbin as `make serve` starts it, with its scheduler."""
    from tests.services.bobbin import ROOT, manage
    from tests.services.programs import free_port, listens, running, wait_until

    with tempfile.TemporaryDirectory(prefix="bobbin-serve-") as folder:
        (Path(folder) / "static").mkdir()
        os.environ |= {"DATA_DIR": folder, "ALLOWED_HOSTS": "127.0.0.1", "DJANGO_SETTINGS_MODULE": "config.settings"}
        for name in ("DATABASE_URL", "REDIS_URL"):
            os.environ.pop(name, None)
        manage("migrate", "--verbosity=0")
        port, log = free_port(), Path(folder) / "log"
        command = [sys.executable, "manage.py", "serve", "--", "--bind", f"127.0.0.1:{port}", "--no-control-socket"]
        with running(command, log=log, cwd=ROOT) as process:
            wait_until(lambda: listens(port), what="the server", log=log, process=process, seconds=90)
            yield f"http://127.0.0.1:{port}"


@contextlib.contextmanager
def served():
    """Gunicorn with two processes, a worker, PostgreSQL and Redis."""
    from tests.services.served import served

    with served() as (_, address, env):
        os.environ.update(env)
        yield address


def setting(folder):
    import django

    django.setup()
    from tests.services.bench_setting import BenchSetting

    made = BenchSetting(folder, technicians=PEOPLE + UPLOADERS)
    made.add_due(40)
    return made.technicians


def report(way, address, people, seconds):
    """Print a line for each attack; return 1 if an ordinary page took a second or more, or failed."""
    ordinary, uploaders = people[:PEOPLE], people[PEOPLE:]
    machine = f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
    print(f"\n{way}: ordinary pages, {machine}, {PEOPLE} people, {seconds:g} s each, in ms")
    print(f"{'':44} number  median     p99     max  failed", flush=True)
    worst = 0.0
    for name, attack in attacks(address, uploaders):
        stop = threading.Event()
        with attack(stop):
            times, failed = measure(address, ordinary, seconds)
            stop.set()
        worst = max(worst, times[-1], 99 * failed)
        figures = (statistics.median(times), times[int(0.99 * (len(times) - 1))], times[-1])
        shown = "".join(f"{1000 * figure:8.0f}" for figure in figures)
        print(f"{name:44} {len(times):6}{shown}{failed:8}", flush=True)
    return int(worst >= 1.0)


def attacks(address, uploaders):
    """(name, function of a stop event that returns a context manager) of each attack, quiet first and last."""
    from tests.fleet.register_file import hostile

    yield "quiet", lambda stop: contextlib.nullcontext()
    for count in (4, 16, 64, 200):
        yield (
            f"{count} unfinished headers",
            lambda stop, count=count: slow(address, stop, count, UNFINISHED, b"X: y\r\n"),
        )
    yield "200 bodies, a byte a second", lambda stop: slow(address, stop, 200, HALF_A_BODY, b"a")
    yield "200 who read no answer", lambda stop: slow(address, stop, 200, ASKED, b"")
    yield "4 bodies of 300 MB to the login page", lambda stop: together(large_body, [address] * 4, stop)
    files = {
        "300,000 merged cells": hostile.merged(300_000),
        "empty strings": hostile.empty_strings(10_000_000),
        "wide rows": hostile.wide_rows(58),
        "zip bomb": hostile.zip_bomb(200),
        "one line": b"a" * 5_000_000,
    }
    for name, content in files.items():
        title = f"4 uploads of {name} ({len(content) // 1000:,} kB)"
        yield title, lambda stop, content=content: uploads(address, stop, uploaders, IMPORT, content)
    paper = hostile.pdfs()["millions of words"]
    yield (
        f"4 papers of a million words ({len(paper) // 1000:,} kB)",
        lambda stop: uploads(address, stop, uploaders, PAPER, paper),
    )
    yield "quiet again", lambda stop: contextlib.nullcontext()


ASKED = b"GET /static/bobbin/bobbin.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 20
IMPORT, PAPER = "/machines/import/", "/library/verify/paper/"


@contextlib.contextmanager
def slow(address, stop, count, start, drop):
    """Hold `count` connections that send `start`, then `drop` once a second; a closed one is opened again."""
    place = urlsplit(address)

    def connect():
        client = socket.create_connection((place.hostname, place.port), timeout=5)
        client.sendall(start)
        return client

    def hold():
        clients = [connect() for _ in range(count)]
        ready.set()
        while not stop.wait(1):
            for number, client in enumerate(clients):
                try:
                    client.sendall(drop)
                except OSError:
                    client.close()
                    with contextlib.suppress(OSError):
                        clients[number] = connect()
        for client in clients:
            client.close()

    ready = threading.Event()
    holder = threading.Thread(target=hold, daemon=True)
    holder.start()
    ready.wait(30)
    yield
    stop.set()
    holder.join(timeout=20)


@contextlib.contextmanager
def together(act, arguments, stop):
    """Call act(argument, stop) for each in a thread of its own, again and again until the stop."""

    def go_on(argument):
        while not stop.is_set():
            act(argument, stop)
            stop.wait(0.2)

    threads = [threading.Thread(target=go_on, args=[argument], daemon=True) for argument in arguments]
    for thread in threads:
        thread.start()
    time.sleep(0.5)
    yield
    stop.set()
    for thread in threads:
        thread.join(timeout=60)


def large_body(address, stop):
    place = urlsplit(address)
    with contextlib.suppress(OSError), socket.create_connection((place.hostname, place.port), timeout=5) as client:
        client.sendall(LARGE)
        for _ in range(3000):
            client.sendall(bytes(100_000))
            if stop.is_set():
                return


def uploads(address, stop, people, path, content):
    from tests.services.visitor import FAILURES, Visitor

    visitors = []
    for who in people:
        visitors.append(Visitor(address, timeout=90))
        visitors[-1].log_in(who["username"], who["password"])

    def send(visitor, stop):
        with contextlib.suppress(*FAILURES):
            visitor.send_file(path, content, kind="machines")

    return together(send, visitors, stop)


def measure(address, people, seconds):
    """Return the sorted seconds of each page, and how many failed."""
    from tests.services.visitor import FAILURES, Visitor

    times, failed, end = [], [], time.monotonic() + seconds

    def visit(who):
        visitor = Visitor(address, timeout=30)
        visitor.log_in(who["username"], who["password"])
        while time.monotonic() < end:
            for path in PAGES:
                start = time.perf_counter()
                try:
                    if visitor.get(path).status not in (200, 302):
                        failed.append(path)
                except FAILURES:
                    failed.append(path)
                times.append(time.perf_counter() - start)
                time.sleep(0.05)

    threads = [threading.Thread(target=visit, args=[who]) for who in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(times), len(failed)


if __name__ == "__main__":
    sys.exit(main())
