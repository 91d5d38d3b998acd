"""An invented register as departments bring it: many spellings of one place, placeholders and near-duplicates."""

import csv
import io
import random
from datetime import date, timedelta

SITES = {
    "St Aubrey's Hospital": ("St. Aubrey's", "ST AUBREYS", "St Aubrey's Hosp.", "Saint Aubrey's Hospital"),
    "Wexcombe General": ("Wexcombe Gen.", "WEXCOMBE GENERAL HOSPITAL", "Wexcombe"),
    "Lower Marl Clinic": ("Lower Marl", "L. Marl Clinic"),
}
AREAS = ("Theatre 1", "Theatre 2", "Theatre 3", "Recovery", "Day surgery", "Maternity theatre")
AREA_SPELLINGS = {"Theatre 1": ("Theater 1", "Th. 1"), "Recovery": ("Recovery Rm",), "Day surgery": ("Day Surg.",)}
MODELS = {
    "Hallborne Three": ("HALLBORNE 3", "Hallborne Three gas"),
    "Hallborne Link": ("Hallborne LINK", "Hallborne Lnk"),
    "Penrick Vent 200": ("Penrick Vent200", "PENRICK VENT-200"),
    "Penrick Mix": ("Penrick MIX (electronic)",),
}
PLACEHOLDERS = ("-", "unknown", "n/a", "?")
HEADER = (
    "Asset No",
    "Serial No",
    "Make & Model",
    "Hospital",
    "Location",
    "YOM",
    "Install date",
    "Last service",
    "Ratio control",
)
TODAY = date(2026, 11, 2)


def messy_rows(machines, seed=1):
    """Return the rows of an invented register of so many machines; the same for the same seed."""
    pick = random.Random(seed)
    rows = [_row(number, pick) for number in range(machines)]
    for number in (7, 23):
        if machines > number + 20:
            rows[number + 20][1] = _look_alike(rows[number][1])
            rows[number + 20][2] = rows[number][2]
    return rows


def messy_register(machines, seed=1):
    """Return the same as the bytes of a CSV file."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([HEADER, *messy_rows(machines, seed)])
    return out.getvalue().encode()


def _row(number, pick):
    installed = TODAY - timedelta(days=pick.randrange(400, 9000))
    serviced = TODAY - timedelta(days=pick.randrange(1, 350))
    area = pick.choice(AREAS)
    return [
        f"AG-{number + 1:04}",
        pick.choice(PLACEHOLDERS) if pick.random() < 0.12 else f"SN{pick.randrange(10**6):06}",
        _spelt(pick.choice(list(MODELS)), MODELS, pick),
        _spelt(pick.choice(list(SITES)), SITES, pick),
        _spelt(area, AREA_SPELLINGS, pick),
        installed.year,
        installed.isoformat(),
        "never" if pick.random() < 0.05 else serviced.isoformat(),
        pick.choice(("yes", "no", "?", "")),
    ]


def _spelt(name, spellings, pick):
    return pick.choice((name, name, *spellings.get(name, ())))


def _look_alike(serial):
    return serial.replace("0", "O").replace("SN", "SN ") if serial.startswith("SN") else serial
