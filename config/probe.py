"""Ask the local web process whether it is up: python -m config.probe. Small, because it runs twice a minute."""

import os
import sys
import urllib.error
import urllib.request


def is_live(port: str) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health/live/", timeout=3) as answer:
            return answer.status == 200
    except (urllib.error.URLError, TimeoutError):
        return False


if __name__ == "__main__":
    sys.exit(0 if is_live(os.environ.get("PORT", "8000")) else 1)
