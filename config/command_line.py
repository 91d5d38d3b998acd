"""Run a management command so that a fault of the database, a file or a setting is reported in a sentence.

The exit status is then UNUSABLE. `--traceback` shows the error as it was raised.
"""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

from config.private_files import UMASK
from fleet.management.database_check import UNUSABLE, fault_in_words

PUBLIC_UMASK = 0o022  # commands on static files: a proxy may serve them
PUBLIC = {"collectstatic"}


def run(argv):
    """Run the command that manage.py was called with. Exit with UNUSABLE where it could not start or finish."""
    os.umask(PUBLIC_UMASK if PUBLIC & set(argv[1:2]) else UMASK)
    try:
        execute_from_command_line(argv)
    except BrokenPipeError:
        raise
    except Exception as error:
        sentence = None if "--traceback" in argv else _in_words(error)
        if sentence is None:
            raise
        sys.stderr.write(f"{sentence}\n")
        sys.exit(UNUSABLE)


def _in_words(error):
    """Return the fault in a sentence for the person at the command line; None for a defect of Bobbin itself."""
    if isinstance(error, ImproperlyConfigured):
        return str(error)
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{error.strerror or error}. Check the path, who may use it, and the room on the disk."
    return fault_in_words(error)
