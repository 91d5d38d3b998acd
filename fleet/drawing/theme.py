"""Colours of all drawings, equal to those of the stylesheet; tests/fleet/drawing checks this."""

from reportlab.lib.colors import HexColor

PAPER = HexColor("#f5f6f1")
SHEET = HexColor("#fdfdfa")
INK = HexColor("#182326")
SOFT = HexColor("#4a595c")
EDGE = HexColor("#76847f")
LINE = HexColor("#cdd3cd")
ACCENT = HexColor("#0a5560")
ACCENT_WASH = HexColor("#e4ece9")
ALARM = HexColor("#9c2f17")
ALARM_WASH = HexColor("#f6e8e0")
