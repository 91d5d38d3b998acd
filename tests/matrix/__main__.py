"""Print the table of who may do what, or write it into DEVELOPERS.md."""

import argparse
import os
import tempfile

import django


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.matrix", description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as directory:
        os.environ |= {"DATA_DIR": directory, "DATABASE_URL": f"sqlite:///{directory}/matrix.sqlite3"}
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
        django.setup()
        text = _computed()
    _tell(text, wanted.write)


def _computed():
    from django.core.management import call_command
    from django.test.utils import setup_test_environment

    from tests.matrix.table import ask_everything, table_text

    setup_test_environment()
    call_command("migrate", verbosity=0)
    return table_text(ask_everything())


def _tell(text, is_written):
    from tests.matrix.table import DOCUMENT, write

    if is_written:
        write(text)
        print(f"{text.count(chr(10)) - 1} addresses are in {DOCUMENT.name}.")
    else:
        print(text)


main()
