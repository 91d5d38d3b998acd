"""Clicks, fields and seconds of whole tasks in a real browser, each from Home, against a goal.

    python -m tests.benchmarks.bench_clicks [--walk notice] [--width 768] [--keyboard] [--shots FOLDER]

A planner books a month of 60 inspections by the plan of the year, and moves the bookings of somebody who is ill for two
weeks; answers a safety notice from its arrival to the proof; a manager answers a board; an auditor takes the evidence
of five machines. Printed are the presses of links and buttons, the fields that were filled, and the seconds of program
and browser. At the end the store must hold what was meant. The first day has a benchmark of its own, bench_first_day.
"""

import argparse
import contextlib
import importlib
import os
import subprocess
import sys
import tempfile

# Each walk with the module that fills its store: a program works on one store, so each walk has a process of its own.
WALKS = {"month": "month", "notice": "department", "board": "department", "evidence": "department"}


def main():
    options = arguments()
    if options.walk:
        return walk(options)
    arguments_given = sys.argv[1:]
    walks = [
        subprocess.run([sys.executable, "-m", "tests.benchmarks.bench_clicks", "--walk", name, *arguments_given])
        for name in WALKS
    ]
    return max(one.returncode for one in walks)


def arguments():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_clicks", description=__doc__.split("\n")[0])
    parser.add_argument("--walk", choices=WALKS, help="one walk only")
    parser.add_argument("--width", type=int, default=1280, help="of the window, px: 1280 or 768")
    parser.add_argument("--keyboard", action="store_true", help="without a mouse: Tab, Enter and typing alone")
    parser.add_argument("--shots", default="", help="folder for a picture of each page before it is left")
    return parser.parse_args()


def walk(options):
    """Fill a store, serve it, and walk. Return 0 where every goal is met."""
    with tempfile.TemporaryDirectory(prefix="bobbin-clicks-") as folder, contextlib.ExitStack() as stack:
        os.environ.pop("DATABASE_URL", None)
        os.environ |= {"DATA_DIR": folder, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
        from tests.benchmarks.bench_keyboard import serve_filled

        store = importlib.import_module(f"tests.benchmarks.walks.{WALKS[options.walk]}")
        address = serve_filled(stack, folder, lambda: store.fill(folder))
        return importlib.import_module(f"tests.benchmarks.walks.{options.walk}").walk(address, options)


if __name__ == "__main__":
    sys.exit(main())
