"""python -m tests.writers --writers 20 --rows 10000"""

import argparse
import os
import sys
import tempfile
from pathlib import Path


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.writers", description="Write while importing and backing up."
    )
    parser.add_argument("--writers", type=int, default=20, help="how many technicians write at once, default 20")
    parser.add_argument("--rows", type=int, default=10_000, help="rows of the imported register, default 10000")
    parser.add_argument("--pause", type=float, default=0.5, help="mean wait between two readings in s, default 0.5")
    options = parser.parse_args()

    with tempfile.TemporaryDirectory(prefix="bobbin-writers-") as name:
        folder = Path(name)
        url = f"sqlite:///{folder / 'data' / 'bobbin.sqlite3'}"
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        env = {"DATA_DIR": str(folder / "data"), "DATABASE_URL": url, "REDIS_URL": ""}
        (folder / "data").mkdir()
        os.environ.update(env)
        from tests.services.bobbin import web_server
        from tests.services.migrated import migrate

        migrate(**env)
        import django

        django.setup()
        from tests.writers.run import Run

        with web_server(**env) as address:
            run = Run(address, folder, env, writers=options.writers, rows=options.rows, pause=options.pause)
            troubles = run.go()
        print(*run.summary(), sep="\n", flush=True)
    return 1 if troubles else 0


if __name__ == "__main__":
    sys.exit(main())
