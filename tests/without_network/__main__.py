"""python -m tests.without_network --rounds 200 --seed 1"""

import argparse
import os
import sys
import tempfile
from pathlib import Path


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.without_network", description="Work at the bench while network, browser and server fail."
    )
    parser.add_argument("--rounds", type=int, default=200, help="how many failures, default 200")
    parser.add_argument("--seed", type=int, default=1, help="what decides their order, default 1")
    options = parser.parse_args()

    from tests.without_network.stage import prepared, tablets

    with tempfile.TemporaryDirectory(prefix="bobbin-offline-") as folder, prepared(Path(folder)) as stage:
        from playwright.sync_api import sync_playwright

        from tests.without_network.run import Run

        with sync_playwright() as playwright:
            half = options.rounds // 2
            two_people = tablets(playwright, stage, [0, 1], label="two people")
            run = Run(two_people, stage.server, stage.database, rounds=half, seed=options.seed, say=_say)
            run.go()
            for one in two_people:
                one.close()
            if not run.troubles:
                one_person = tablets(playwright, stage, [0, 0], label="one person")
                run.replace(one_person)
                run.rounds = options.rounds - half
                run.go()
                for one in one_person:
                    one.close()
        _say(f"Without a network, seed {options.seed}", *run.summary())
    return 1 if run.troubles else 0


def _say(*lines):
    print(*lines, sep="\n", flush=True)


if __name__ == "__main__":
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    sys.exit(main())
