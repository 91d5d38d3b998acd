#!/usr/bin/env python
"""Run Bobbin's management commands."""

import os
import sys


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from config.command_line import run

    run(sys.argv)


if __name__ == "__main__":
    main()
