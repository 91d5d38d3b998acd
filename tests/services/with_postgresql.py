"""Run a command with DATABASE_URL set to a throwaway PostgreSQL: python -m tests.services.with_postgresql COMMAND..."""

import os
import subprocess
import sys

from tests.services.postgresql import postgresql
from tests.services.programs import Missing


def main(command: list[str]) -> int:
    try:
        with postgresql() as url:
            return subprocess.run(command, env=os.environ | {"DATABASE_URL": url}).returncode
    except Missing as missing:
        print(f"NOT RUN on PostgreSQL: {missing}", flush=True)
        return 1 if os.environ.get("CI") == "true" else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
