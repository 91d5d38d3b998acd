"""Read procedure files (TOML), check every name in them and resolve the limits, so that a version is self-contained."""

import tomllib
from dataclasses import asdict
from pathlib import Path

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES
from inspections.at_bench.conditional_results import RULES
from inspections.bench import UNITS, BenchError, Limit, UnknownTest, choose_limit, dimension_of, get_test, to_si
from inspections.bench.guard import refuse_limit
from inspections.errors import ProcedureError

DIRECTORY = Path(__file__).parent.parent / "procedures"
PROCEDURE_KEYS = {"code", "title", "purpose", "interval_months", "window_days", "cautions", "step"}
STEP_KEYS = {
    "code", "title", "test", "essential", "feature", "component", "gas", "each", "instruction", "item", "rules",
    "choices", "source", "limit", "conditional",
}  # fmt: skip


def read_procedures(directory=DIRECTORY):
    """Return the content of every procedure file of a directory, by file name. Raise ProcedureError."""
    files = sorted(Path(directory).glob("*.toml"))
    if not files:
        raise ProcedureError(f"There is no procedure file (*.toml) in {directory}.")
    return [read_procedure(path.read_text(encoding="utf-8"), name=path.name) for path in files]


def read_procedure(text, *, name):
    """Return the checked content of one procedure file; `name` is used in errors."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProcedureError(f"{name} is not TOML: {error}.") from None
    _check_keys(content, PROCEDURE_KEYS, {"code", "title", "step"}, name)
    seen = set()
    for number, step in enumerate(content["step"], start=1):
        where = f"{name}, step {number} ({step.get('code', 'no code')})"
        _check_keys(step, STEP_KEYS, {"code", "title", "test"}, where)
        if step["code"] in seen:
            raise ProcedureError(f"{where}: the code is used twice. Give each step its own.")
        seen.add(step["code"])
        _check_step(step, where)
    return content


def _check_keys(table, accepted, required, where):
    unknown, lacking = sorted(set(table) - accepted), sorted(required - set(table))
    if unknown:
        raise ProcedureError(f"{where}: unknown key {', '.join(unknown)}. Accepted: {', '.join(sorted(accepted))}.")
    if lacking:
        raise ProcedureError(f"{where}: {', '.join(lacking)} is missing.")


def _check_step(step, where):
    _check_code(step, "feature", FEATURES, where)
    _check_code(step, "component", COMPONENT_KINDS, where)
    _check_code(step, "gas", GASES, where)
    if step.get("each", "other gas") != "other gas":
        raise ProcedureError(f"{where}: each = “{step['each']}” is not known. Accepted: “other gas”.")
    if step.get("conditional", "remark") not in RULES:
        accepted = ", ".join(RULES)
        raise ProcedureError(f"{where}: conditional = “{step['conditional']}” is not known. Accepted: {accepted}.")
    try:
        test = get_test(step["test"])
        _check_choices(step, test, where)
        own = [_own_limit(limit, test, where) for limit in step.pop("limit", [])]
        offered = [*own, *test.default_limits]
        for key, rule in step.get("rules", {}).items():
            choose_limit(offered, key, rule=rule)
    except (UnknownTest, BenchError, ValueError) as error:
        raise ProcedureError(f"{where}: {error}") from None
    step["limits"] = [asdict(limit) for limit in offered]


def _check_code(step, key, accepted, where):
    if key in step and step[key] not in accepted:
        raise ProcedureError(
            f"{where}: {key} = “{step[key]}” is not in the catalogue. Accepted: {', '.join(accepted)}."
        )


def _check_choices(step, test, where):
    offered = {spec.key: [value for value, _ in spec.options] for spec in test.choices}
    for key, value in step.get("choices", {}).items():
        if key not in offered:
            raise ProcedureError(
                f"{where}: {test.title} has no choice “{key}”. Accepted: {', '.join(offered) or 'none'}."
            )
        if value not in offered[key]:
            raise ProcedureError(f"{where}: {key} = “{value}” is not offered. Accepted: {', '.join(offered[key])}.")


def _own_limit(table, test, where):
    """A limit that the procedure file states itself, in its own unit."""
    accepted = {"key", "rule", "title", "lower", "upper", "unit", "source", "edition", "basis", "note"}
    _check_keys(table, accepted, {"key", "rule", "title", "unit", "source", "basis"}, where)
    spec = next((spec for spec in test.results if spec.key == table["key"]), None)
    if spec is None:
        known = ", ".join(spec.key for spec in test.results)
        raise ProcedureError(f"{where}: {test.title} has no result “{table['key']}”. Accepted: {known}.")
    if dimension_of(table["unit"]) != spec.dimension:
        units = ", ".join(UNITS[spec.dimension])
        raise ProcedureError(f"{where}: {spec.key} is not measured in “{table['unit']}”. Accepted: {units}.")
    for end in ("lower", "upper"):
        if end in table and (isinstance(table[end], bool) or not isinstance(table[end], int | float)):
            raise ProcedureError(f"{where}: {end} = {table[end]!r} is not a number.")
    bounds = {f"{end}_si": to_si(table[end], table["unit"]) if end in table else None for end in ("lower", "upper")}
    rest = {key: table[key] for key in accepted - {"lower", "upper", "edition"} if key in table}
    limit = Limit(**rest, **bounds, edition=table.get("edition", ""))
    refuse_limit(test, limit.key, limit)
    return limit
