"""Heavy packages are loaded when they are used, and starting Bobbin loads none of them."""

import subprocess
import sys

import numpy
import pytest
import scipy.optimize

from fleet import late
from tests.services.bobbin import ROOT

HEAVY = {"networkx", "numpy", "openpyxl", "redis", "scipy", "webauthn"}
STARTED = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
import django
django.setup()
import config.urls
print(*sys.modules)
"""


def test_a_late_module_gives_what_the_module_gives():
    assert late.optimize.brentq is scipy.optimize.brentq
    assert late.np.ndarray is numpy.ndarray


def test_what_a_late_module_has_not_raises_as_the_module_does():
    with pytest.raises(AttributeError, match="numpy"):
        late.np.no_such_thing  # noqa: B018


def test_a_package_that_is_missing_is_told_at_its_first_use():
    absent = late.LateModule("bobbin_has_no_such_package")
    with pytest.raises(ModuleNotFoundError, match="bobbin_has_no_such_package"):
        absent.anything  # noqa: B018


def test_starting_bobbin_with_all_its_pages_loads_no_heavy_package():
    done = subprocess.run([sys.executable, "-c", STARTED], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not {name.partition(".")[0] for name in done.stdout.split()} & HEAVY
