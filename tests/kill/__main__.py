"""python -m tests.kill --rounds 200 --seed 1"""

import argparse
import os
import sys
import tempfile
from pathlib import Path


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.kill", description="Kill parts of Bobbin while it is used.")
    parser.add_argument("--rounds", type=int, default=200, help="how many kills, default 200")
    parser.add_argument("--seed", type=int, default=1, help="what decides the order and the moments, default 1")
    parser.add_argument("--technicians", type=int, default=4, help="how many work at the same time, default 4")
    parser.add_argument("--webs", type=int, default=1, help="how many web nodes, behind one proxy, default 1")
    parser.add_argument("--workers", type=int, default=1, help="how many Celery workers, default 1")
    parser.add_argument("--machines", type=int, default=0, help="how many further machines are registered, default 0")
    options = parser.parse_args()

    from tests.services.served import served

    with (
        served(webs=options.webs, workers=options.workers) as (parts, address, env),
        tempfile.TemporaryDirectory() as folder,
    ):
        os.environ.update(env)
        import django

        django.setup()
        from tests.kill.run import Run
        from tests.services.bench_setting import BenchSetting

        setting = BenchSetting(Path(folder), technicians=options.technicians)
        setting.register(options.machines)
        run = Run(parts, address, env, setting, rounds=options.rounds, seed=options.seed, say=_say)
        troubles = run.go()
        _say(f"Kill run, seed {options.seed}", *run.summary())
    return 1 if troubles else 0


def _say(*lines):
    print(*lines, sep="\n", flush=True)


if __name__ == "__main__":
    sys.exit(main())
