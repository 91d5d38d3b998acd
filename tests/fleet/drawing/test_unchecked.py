import os
import subprocess
import sys

import pytest
from reportlab.graphics.shapes import Line

from fleet.drawing.unchecked import SWITCH

SET_ON_A_SHAPE = "from fleet.drawing import rule; rule(0, 0, 1, 1).thickness = 2"


def run_python(code, **variables):
    environment = {name: value for name, value in os.environ.items() if name != SWITCH} | variables
    return subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True)


def test_in_use_the_attributes_of_shapes_are_not_checked():
    assert run_python(SET_ON_A_SHAPE).returncode == 0


def test_the_switch_of_reportlab_checks_them():
    assert "Illegal attribute 'thickness'" in run_python(SET_ON_A_SHAPE, **{SWITCH: "1"}).stderr


def test_every_test_checks_them():
    with pytest.raises(AttributeError, match="Illegal attribute"):
        Line(0, 0, 1, 1).thickness = 2
