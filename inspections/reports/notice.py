"""A safety notice on paper: the proof that none was missed, and the reply to whoever published it."""

from reportlab.platypus import CondPageBreak, Spacer

from fleet.canonical import canonical_json, digest_of
from fleet.days import long_date
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

MOST = 2000  # items on paper; a notice of more says so
PROOF_HEAD = ["Item", "Serial, lot", "Answer and reason", "What became of it"]
REPLY_HEAD = ["Item", "Serial number", "Lot", "What was done"]
LEAST_OF_TABLE = 110  # points left on a page for heading, head and the first rows of the items
ON_REPLY = ("concerned", "cannot be decided")
CAUTIONS = (
    "The list is as complete as the register: what was never entered cannot be found in it.",
    "“Cannot be decided” is not “not concerned”: a person has to look at the item.",
)
NAMES = {"machine": "machines", "component": "components", "instrument": "instruments", "inspection": "inspections"}


def notice_content(notice, items):
    """Return what the proof says as JSON values, from which its digest is computed."""
    return {
        "notice": {
            "published_by": notice.published_by, "reference": notice.reference, "title": notice.title,
            "published_on": notice.published_on.isoformat(), "received_on": notice.received_on.isoformat(),
            "answer_by": notice.answer_by.isoformat() if notice.answer_by else None, "asks": notice.asks,
            "closed_at": notice.closed_at.isoformat() if notice.closed_at else None,
            "closing_note": notice.closing_note,
        },
        "criteria": [str(one) for one in notice.criteria.in_force().select_related("model")],
        "withdrawn_criteria": [_withdrawn_content(one) for one in _withdrawn(notice)],
        "looked_at": {what: getattr(notice, f"looked_{what}s") for what in NAMES},
        "looked_at_time": notice.looked_at.isoformat() if notice.looked_at else None,
        "items": [_item_content(item) for item in items],
    }  # fmt: skip


def write_proof(notice, items, *, made) -> bytes:
    """Return the proof of completeness; `items` are loaded as by `with_place`, MOST at most."""
    content = notice_content(notice, items)
    digest = digest_of(canonical_json(content))
    paper = _paper(notice, "What was done about a safety notice", made)
    story = [
        *title_block("Proof of completeness", f"{notice.published_by}, {notice.reference}: {notice.title}"),
        facts(_dates(notice), paper.width, 4),
        Spacer(1, 6),
        figure_line(_figures(notice, content), paper.width),
        Spacer(1, 8),
        caution_box(CAUTIONS, paper.width),
        Heading("What the notice names"),
        *bullets(content["criteria"] or [_nothing_named(notice)]),
        text("Each line must be met as a whole; one line is enough. Removed components and retired machines "
             "were looked at too.", "note"),
        *_withdrawn_lines(notice),
        *_items(items, paper, _proof_row, PROOF_HEAD, (0.27, 0.18, 0.27, 0.28)),
        Heading("Digest"),
        text(f"SHA-256 of the content of this proof: {digest}", "small"),
    ]  # fmt: skip
    return build_pdf(paper, story)


def write_reply(notice, items, *, made) -> bytes:
    """Return the reply: items with their serials and what was done, and room for what the notice's own form asks."""
    paper = _paper(notice, "Reply to a safety notice", made)
    named = [item for item in items if item.match in ON_REPLY]
    blanks = [("Name", " "), ("Position", " "), ("Date", " "), ("Signature", " ")]
    story = [
        *title_block("Reply to a safety notice", f"{notice.published_by}, {notice.reference}: {notice.title}"),
        facts(_dates(notice), paper.width, 4),
        Spacer(1, 6),
        text(f"To {notice.published_by}. The register of this department was searched for what the notice names."),
        *_items(named, paper, _reply_row, REPLY_HEAD, (0.33, 0.16, 0.13, 0.38)),
        *([Heading("Remark"), text(notice.closing_note)] if notice.closing_note else []),
        Heading("For the department"),
        text("To be filled in by hand, and on the notice's own form where it has one.", "note"),
        Spacer(1, 4),
        facts([(label, "\n\n") for label, _ in blanks], paper.width, 4),
    ]
    return build_pdf(paper, story)


def _withdrawn(notice):
    return notice.criteria.withdrawn().select_related("model", "withdrawn_by")


def _withdrawn_content(criterion):
    return {
        "criterion": str(criterion), "reason": criterion.withdrawn_reason, "by": str(criterion.withdrawn_by or ""),
        "at": criterion.withdrawn_at.isoformat(),
    }  # fmt: skip


def _withdrawn_lines(notice):
    """What was named in error, with why, by whom and when; nothing where nothing was withdrawn."""
    lines = [
        f"{one}. Withdrawn on {long_date(one.withdrawn_at.date())} by {one.withdrawn_by or 'Bobbin'}: "
        f"{one.withdrawn_reason}"
        for one in _withdrawn(notice)
    ]
    if not lines:
        return []
    said = "What these lines alone had found is listed below as no longer concerned."
    return [Heading("Withdrawn: what the notice does not name"), *bullets(lines), text(said, "note")]


def _nothing_named(notice):
    return "Signed inspections that rest on the instrument." if notice.calibration_id else "Nothing any more."


def _paper(notice, title, made):
    return Paper(
        title=title, reference=notice.reference, subject=f"{notice.published_by} {notice.reference}", made=made
    )


def _dates(notice):
    by = long_date(notice.answer_by) if notice.answer_by else "no day given"
    searched = long_date(notice.looked_at.date()) if notice.looked_at else "not searched"
    return [("Date of the notice", long_date(notice.published_on)), ("Received", long_date(notice.received_on)),
            ("To be done by", by), ("Last searched", searched)]  # fmt: skip


def _figures(notice, content):
    items = content["items"]
    looked = sum(content["looked_at"].values())
    return [
        (counted(looked), "looked at"),
        (counted(sum(one["answer"] == "concerned" for one in items)), "concerned"),
        (counted(sum(one["answer"] == "cannot be decided" for one in items)), "cannot be decided"),
        (counted(sum(one["state"] != "open" for one in items)), "settled"),
        (counted(sum(one["state"] == "open" for one in items)), "open"),
    ]


def _items(items, paper, row, head, parts):
    if not items:
        return [Heading("Items"), text("The register holds none.")]
    table = data_table(head, [row(item) for item in items], [paper.width * part for part in parts])
    heading = Heading("Items")
    heading.keepWithNext = 0  # or a table that fits a page of its own would leave the rest of this one empty
    more = [text(f"The first {counted(MOST)} items; the page of the notice lists all.", "note")]
    return [CondPageBreak(LEAST_OF_TABLE), heading, table, *(more if len(items) >= MOST else [])]


def _proof_row(item):
    reason = f"{item.get_match_display()}: {item.reason}" if item.reason else item.get_match_display()
    return [_name(item), _plate(item), reason, _became(item)]


def _reply_row(item):
    plate = item.plate
    lot = item.component.lot if item.component_id else ""
    done = _became(item)
    if item.is_open and item.match == item.Match.UNDECIDED:
        done = f"{done} Cannot be decided yet: {item.reason}."
    return [_name(item), plate.serial or "not recorded", lot or "–", done]


def _name(item):
    site = item.site.name
    return f"{item}, {site}" + (f" ({item.standing})" if item.standing else "")


def _plate(item):
    lot = f", lot {item.component.lot or 'not recorded'}" if item.component_id else ""
    return f"{item.plate.serial or 'serial not recorded'}{lot}"


def _became(item):
    if item.is_open:
        return "Open; work is planned." if item.has_work else "Open."
    who = f" {item.settled_by}, {long_date(item.settled_at.date())}." if item.settled_by else ""
    return f"{item.get_state_display()}: {item.words.rstrip('.')}.{who}"


def _item_content(item):
    return {
        "item": str(item), "what": list(item.key), "site": item.site.name, "serial": item.plate.serial,
        "lot": item.component.lot if item.component_id else None, "standing": item.standing, "answer": item.match,
        "reason": item.reason, "state": item.state, "words": item.words,
        "settled_by": str(item.settled_by) if item.settled_by else None,
        "settled_at": item.settled_at.isoformat() if item.settled_at else None,
        "work": bool(item.has_work),
    }  # fmt: skip
