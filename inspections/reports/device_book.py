"""A device book on paper: the whole life of a machine, printed from the content of the book alone."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from reportlab.platypus import Spacer

from fleet.days import long_date, long_moment
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    bullets,
    caution_box,
    data_table,
    facts,
    figure_line,
    text,
    title_block,
)
from fleet.place_format import counted

CAUTIONS = (
    "This book shows the record as it stood at the moment named above. What was entered later is not in it, and what "
    "nobody entered is in no record.",
    "It clears no machine for use: a person signs, and the checks before each use remain.",
)
FIGURES = (
    ("inspections", "inspections signed"),
    ("findings", "findings"),
    ("incidents", "serious incidents"),
    ("files", "attached files"),
)


def write_device_book(content, digest) -> bytes:
    """Return the book as PDF, on the paper of the place that is shown now."""
    machine, zone = content["machine"], ZoneInfo(content["time_zone"])
    made = long_moment(datetime.fromisoformat(content["made_at"]).astimezone(zone))
    paper = Paper(
        title="Device book",
        reference=f"Machine {machine['asset_number']}",
        subject=f"Device book of machine {machine['asset_number']}",
        made=f"State of {made}, for {content['made_for']}",
        keywords=f"SHA-256 {digest}",
    )
    story = [*_front(content, digest, made, paper)]
    for section in content["sections"]:
        story += _section(section, zone, paper)
    return build_pdf(paper, [*story, *_end(content, digest)])


def _front(content, digest, made, paper):
    machine = content["machine"]
    rows = {one["code"]: len(one["rows"]) + one["left_out"] for one in content["sections"]}
    return [
        *title_block(
            f"Device book of machine {machine['asset_number']}",
            f"{machine['manufacturer']} {machine['model']}. State of the record on {made}.",
        ),
        facts(_identity(machine), paper.width, 3),
        Spacer(1, 8),
        figure_line([(counted(rows.get(code, 0)), words) for code, words in FIGURES], paper.width),
        Spacer(1, 8),
        caution_box(CAUTIONS, paper.width),
        Spacer(1, 6),
        text(f"SHA-256 of the data of this book (device-book.json): {digest}", "small"),
        *([Heading("Note in the register"), text(machine["note"])] if machine["note"] else []),
    ]


def _identity(machine):
    return [
        ("Asset number", machine["asset_number"]),
        ("Serial number", machine["serial"] or "not recorded"),
        ("Status", machine["status"]),
        ("Manufacturer", machine["manufacturer"]),
        ("Model", machine["model"]),
        ("Built to", machine["standard"] or "not recorded"),
        ("Built", machine["built_year"] or "not known"),
        ("In use from", long_date(date.fromisoformat(machine["in_use_from"]))),
        ("Location", f"{machine['area']}, {machine['site']}"),
    ]


def _section(section, zone, paper):
    parts = [Heading(section["title"])]
    if not section["rows"]:
        return [*parts, text(section["empty"])]
    if section["note"]:
        parts += [text(section["note"], "note"), Spacer(1, 3)]
    columns = section["columns"]
    rows = [[_words(row[one["key"]], one["kind"], zone) for one in columns] for row in section["rows"]]
    widths = [paper.width * one["share"] for one in columns]
    parts.append(data_table([one["label"] for one in columns], rows, widths, is_dense=True))
    if section["left_out"]:
        parts.append(text(f"{counted(section['left_out'])} more are left out here; Bobbin shows all of them.", "alarm"))
    return parts


def _words(value, kind, zone):
    """Return a value of the content as the paper says it."""
    if value is None:
        return "–"
    if kind == "day":
        return long_date(_day(value, zone))
    if kind == "moment":
        return long_moment(datetime.fromisoformat(value).astimezone(zone))
    if kind == "digest":
        return f"{value[:32]} {value[32:]}"
    return str(value)


def _day(value, zone):
    """A day is stored as such or as the moment of which it is the day."""
    return datetime.fromisoformat(value).astimezone(zone).date() if "T" in value else date.fromisoformat(value)


def _end(content, digest):
    return [
        Heading("What this book does not hold"),
        *bullets(content["not_held"]),
        Heading("How to check this book"),
        text(
            "The archive that this paper came in holds device-book.json. Its SHA-256 is the one printed here, and "
            "Bobbin lists it among the device books that were made, on the page of the machine. manifest.json names "
            "the SHA-256 of every file of the archive."
        ),
        Spacer(1, 3),
        text(f"SHA-256 of the data of this book: {digest}", "small"),
    ]
