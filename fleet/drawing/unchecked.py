"""Lets reportlab set the attributes of shapes without checking each, which took half of the time of a picture.

Imported before the first shape. RL_shapeChecking=1 in the environment, as in the tests, checks them.
"""

import os

from reportlab import rl_config

SWITCH = "RL_shapeChecking"

if SWITCH not in os.environ:
    rl_config.shapeChecking = 0
