"""Run a management command so that a fault of the database, a file or a setting ends in a sentence.

The exit status is then UNUSABLE. `--traceback` shows the error as it was raised.
"""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

from config.private_files import UMASK
from fleet.management.database_check import UNUSABLE, fault_in_words

PUBLIC_UMASK = 0o022  # the files of the look: a proxy may send them
PUBLIC = {"collectstatic"}


def run(argv):
    """Do what manage.py is asked. Ends the process with UNUSABLE where the command could not begin or go on."""
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
    """What went wrong, for the person at the command line; None for a mistake of Bobbin itself."""
    if isinstance(error, ImproperlyConfigured):
        return str(error)
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{error.strerror or error}. Check the path, who may use it, and the room on the disk."
    return fault_in_words(error)
