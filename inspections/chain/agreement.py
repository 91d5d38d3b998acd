"""A record against the rows that its entry froze: where the two say different things of the same reading or result."""

import json
from datetime import datetime

from inspections.models.readings import repeats_in_words
from inspections.records.content import canonical_json, digest_of


def disagreements(content, rows):
    """Yield (what, column, value in the record, value in the rows), all of them by step and place.

    content  text of the record; rows  what an entry froze, see inspections.chain.rows. A record that cannot be read
             yields nothing: its digest was reported already.
    """
    try:
        record = json.loads(content)
        parts = (_inspection, _steps, _readings, _results, _remarks, _photographs, _questions)
        parts = [part(record, rows) for part in parts]
        found = [(what, said, stood) for part in parts for what, said, stood in part]
    except (ValueError, KeyError, TypeError, AttributeError):
        return
    for what, said, stood in found:
        for column in sorted(said.keys() | stood.keys()):
            if said.get(column) != stood.get(column):
                yield what, column, said.get(column), stood.get(column)


def _table(rows, name):
    fields = rows[name]["fields"]
    return [dict(zip(fields, row, strict=True)) for row in rows[name]["rows"]]


def _inspection(record, rows):
    [row] = _table(rows, "inspection")
    said = {
        "id": record["inspection"],
        "signed_at": _moment(record["signed_at"]),
        "temperature_c": record["conditions"]["temperature_c"],
        **({"minutes": record.get("minutes")} if "minutes" in row else {}),
    }
    yield "inspection", said, {**{name: row[name] for name in said}, "signed_at": _moment(row["signed_at"])}


def _steps(record, rows):
    columns = ("title", "is_essential", "applies", "absence", "not_tested_reason")
    said = {(s["code"], s["subject"]): {c: s[c] for c in columns} | {"test_code": s["test"]} for s in record["steps"]}
    stood = {(s["code"], s["subject"]): {c: s[c] for c in (*columns, "test_code")} for s in _table(rows, "step")}
    yield from _paired("step", said, stood)


def _readings(record, rows):
    """The readings that stood when the record was signed; corrected ones are not part of a record."""
    columns = ("as_read", "unit", "zero")
    step_of = {s["id"]: (s["code"], s["subject"]) for s in _table(rows, "step")}
    tested = {(s["code"], s["subject"]) for s in record["steps"] if "readings" in s}
    said = {
        (s["code"], s["subject"], r["field"], r["row"], r["column"]): _told(r, columns)
        | {"token_id": r.get("program", {}).get("token")}
        for s in record["steps"]
        for r in s.get("readings", [])
    }
    stood = {
        (*step_of[r["step_id"]], r["field"], r["row"], r["column"]): _told(r, columns)
        | {"token_id": r.get("token_id")}  # no column of entries from before programs were named
        for r in _table(rows, "reading")
        if r["superseded_at"] is None and step_of[r["step_id"]] in tested
    }
    yield from _paired("reading", said, stood)


def _results(record, rows):
    step_of = {s["id"]: (s["code"], s["subject"]) for s in _table(rows, "step")}
    said = {
        (s["code"], s["subject"], o["key"]): {"content": digest_of(canonical_json(o))}
        for s in record["steps"]
        for o in s.get("evaluation", {}).get("outcomes", [])
    }
    stood = {(*step_of[o["step_id"]], o["key"]): {"content": o["content"]} for o in _table(rows, "outcome")}
    yield from _paired("outcome", said, stood)


def _remarks(record, rows):
    if "remark" not in rows:
        return  # entries from before there were remarks
    step_of = {s["id"]: (s["code"], s["subject"]) for s in _table(rows, "step")}
    said = {(s["code"], s["subject"]): {"text": s["remark"]["text"]} for s in record["steps"] if "remark" in s}
    stood = {step_of[r["step_id"]]: {"text": r["text"]} for r in _table(rows, "remark") if r["text"]}
    yield from _paired("remark", said, stood)


def _photographs(record, rows):
    if "photograph" not in rows:
        return
    columns = ("caption", "width", "height", "octets")
    step_of = {s["id"]: (s["code"], s["subject"]) for s in _table(rows, "step")}
    said = {
        (s["code"], s["subject"], p["digest"]): {column: p[column] for column in columns}
        for s in record["steps"]
        for p in s.get("photographs", [])
    }
    stood = {
        (*step_of[p["step_id"]], p["digest"]): {column: p[column] for column in columns}
        for p in _table(rows, "photograph")
        if p["removed_at"] is None
    }
    yield from _paired("photograph", said, stood)


def _questions(record, rows):
    """What was asked about readings; entries from before questions were asked have no such table."""
    if "question" not in rows:
        return
    step_of = {s["id"]: (s["code"], s["subject"]) for s in _table(rows, "step")}
    tested = {(s["code"], s["subject"]) for s in record["steps"] if "readings" in s}
    place_of = {
        r["id"]: (*step_of[r["step_id"]], r["field"], r["row"], r["column"], _in_words(r))
        for r in _table(rows, "reading")
    }
    said = {
        (s["code"], s["subject"], q["field"], q["row"], q["column"], q["read"], q["kind"], q["asked"]): _answer(q)
        for s in record["steps"]
        for q in s.get("questions", [])
    }
    stood = {
        (*place_of[q["reading_id"]], q["kind"], q["asked"]): _answer(q)
        for q in _table(rows, "question")
        if place_of[q["reading_id"]][:2] in tested
    }
    yield from _paired("question", said, stood)


def _answer(question):
    return {"is_answered": bool(question["answer"]), "at": question["at"] and _moment(question["at"])}


def _in_words(row):
    return repeats_in_words([row["as_read"], *row.get("read_again", "").split()], row["unit"])


def _told(reading, columns):
    typed_at = reading.get("typed_at")  # no column of entries from before devices sent it, absent from most records
    moments = {"entered_at": _moment(reading["entered_at"]), "typed_at": typed_at and _moment(typed_at)}
    again = {"read_again": reading.get("read_again", "")} if "as_read" in columns else {}  # of older entries: none
    return {column: reading[column] for column in columns} | moments | again


def _paired(kind, said, stood):
    for key in sorted(said.keys() | stood.keys(), key=str):
        what = " ".join(str(part) for part in (kind, *key) if part != "")
        yield what, said.get(key, {}), stood.get(key, {})


def _moment(text):
    return datetime.fromisoformat(text)
