"""Read procedure files (TOML), check every name in them and resolve the limits, so that a version is self-contained."""

import tomllib
from copy import deepcopy
from dataclasses import asdict
from pathlib import Path
from types import MappingProxyType

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES, Need
from inspections.at_bench.conditional_results import RULES
from inspections.at_bench.found_failures import read_failure
from inspections.at_bench.procedure_shape import OF_ENTRY, OF_LIMIT, OF_PROCEDURE, OF_STEP, check_shape
from inspections.at_bench.step_content import WORDED, features_of
from inspections.bench import UNITS, BenchError, Limit, UnknownTest, choose_limit, get_test, to_si
from inspections.bench.guard import refuse_limit
from inspections.bench.passages import passage_problem
from inspections.errors import ProcedureError

DIRECTORY = Path(__file__).parent.parent / "procedures"
MOST_BYTES = 400_000  # the longest that is shipped has about 40,000
SHARED_STEPS = "steps.toml"  # the steps that the procedures of a folder share; itself no procedure
PROCEDURE_KEYS = {
    "code", "title", "purpose", "interval_months", "window_days", "cautions", "pre_use", "step", "not_tested_here",
    "contains",
}  # fmt: skip
STEP_KEYS = {
    "code", "title", "test", "essential", "purpose", "feature", "or_feature", "needs", "component", "gas", "each",
    "repeat_after", "instruction", "item", "caution", "rules", "choices", "source", "limit", "conditional", "rated",
    "from_record", "finds",
}  # fmt: skip


def read_procedures(directory=DIRECTORY):
    """Return the content of every procedure file of a directory, by file name. Raise ProcedureError."""
    files = sorted(path for path in Path(directory).glob("*.toml") if path.name != SHARED_STEPS)
    if not files:
        raise ProcedureError(f"There is no procedure file (*.toml) in {directory}.")
    shared = read_shared_steps(directory)
    return [read_procedure(_text_of(path), name=path.name, shared=shared) for path in files]


def read_shared_steps(directory=DIRECTORY):
    """Return the steps that the procedures of a directory share, by code; none without such a file."""
    path = Path(directory) / SHARED_STEPS
    if not path.exists():
        return {}
    content = _toml(_text_of(path), SHARED_STEPS)
    _check_keys(content, {"step", "not_found"}, {"step"}, SHARED_STEPS)
    check_shape(content, OF_PROCEDURE, SHARED_STEPS)
    return {step["code"]: step for step in _each_once(content["step"], SHARED_STEPS)}


def read_procedure(text, *, name, shared=MappingProxyType({})):
    """Return the checked content of one procedure file; `name` is used in errors, `shared` as of read_shared_steps."""
    return freeze_procedure(parse_procedure(text, name=name, shared=shared), name=name)


def parse_procedure(text, *, name, shared=MappingProxyType({})):
    """Return what a procedure file says, with the shared steps that it uses in it; its names are not looked up."""
    content = _toml(text, name)
    _check_keys(content, PROCEDURE_KEYS, {"code", "title", "step"}, name)
    check_shape(content, OF_PROCEDURE, name)
    content["step"] = [_taken(step, shared, name) for step in content["step"]]
    return content


def freeze_procedure(content, *, name):
    """Return the content of a version: what a procedure file says with every name checked, every limit resolved.

    Raise ProcedureError naming step, field and what is accepted.
    """
    check_head(content, name)
    frozen = {**content, "step": _each_once(deepcopy(content["step"]), name)}
    for number, step in enumerate(frozen["step"], start=1):
        _check_step(step, where_of_step(name, number, step))
    _check_not_tested(frozen, name)
    return frozen


def check_head(content, name):
    """Raise ProcedureError for what a procedure says of itself beside its steps."""
    _check_keys(content, PROCEDURE_KEYS, {"code", "title", "step"}, name)
    check_shape(content, OF_PROCEDURE, name)


def freeze_step(step, where):
    """Return one step as freeze_procedure does."""
    _check_keys(step, STEP_KEYS, {"code", "title", "test"}, where)
    check_shape(step, OF_STEP, where)
    frozen = deepcopy(step)
    _check_step(frozen, where)
    return frozen


def where_of_step(name, number, step):
    code = step.get("code")
    return f"{name}, step {number} ({code if OF_STEP['code'].fits(code) else 'no code'})"


def _text_of(path):
    if path.stat().st_size > MOST_BYTES:
        raise ProcedureError(f"{path.name} has {path.stat().st_size:,} bytes; at most {MOST_BYTES:,} are accepted.")
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise ProcedureError(f"{path.name} is not text in UTF-8: byte {error.start + 1:,} cannot be read.") from None


def _toml(text, name):
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ProcedureError(f"{name} is not accepted: its tables or lists are nested too deeply.") from None
    except ValueError as error:  # also a number of thousands of digits, which tomllib lets through
        raise ProcedureError(f"{name} is not TOML: {error}.") from None


def _taken(step, shared, name):
    """The step itself, or the shared one that it uses, with what it writes in its place."""
    check_shape(step, {"use": OF_STEP["use"]}, name)
    if "use" not in step:
        return step
    if step["use"] not in shared:
        accepted = ", ".join(shared) or f"none, there is no {SHARED_STEPS}"
        raise ProcedureError(f"{name}: use = “{step['use']}” is not a shared step. Accepted: {accepted}.")
    return deepcopy(shared[step["use"]]) | {key: value for key, value in step.items() if key != "use"}


def _each_once(steps, name):
    """Return the steps, whose keys are known and whose codes differ. Raise ProcedureError."""
    seen = set()
    for number, step in enumerate(steps, start=1):
        where = where_of_step(name, number, step)
        _check_keys(step, STEP_KEYS, {"code", "title", "test"}, where)
        check_shape(step, OF_STEP, where)
        if step["code"] in seen:
            raise ProcedureError(f"{where}: the code is used twice. Give each step its own.")
        seen.add(step["code"])
    return steps


def _check_not_tested(content, name):
    """Refuse an entry of what is not tested that names no feature, no reason, or a feature that a step tests."""
    tested = {code for step in content["step"] for code in features_of(step)}
    for entry in content.get("not_tested_here", []):
        where = f"{name}, not_tested_here"
        _check_keys(entry, {"features", "reason"}, {"features", "reason"}, where)
        check_shape(entry, OF_ENTRY, where)
        _check_list(entry, "features", FEATURES, where)
        if not entry["reason"].strip():
            raise ProcedureError(f"{where}: say in a sentence why {', '.join(entry['features'])} is not tested.")
        if both := sorted(tested.intersection(entry["features"])):
            raise ProcedureError(f"{where}: {', '.join(both)} is tested by a step. Remove it here.")


def _check_keys(table, accepted, required, where):
    unknown, lacking = sorted(set(table) - accepted), sorted(required - set(table))
    if unknown:
        raise ProcedureError(f"{where}: unknown key {', '.join(unknown)}. Accepted: {', '.join(sorted(accepted))}.")
    if lacking:
        raise ProcedureError(f"{where}: {', '.join(lacking)} is missing.")


def _check_step(step, where):
    _check_code(step, "feature", FEATURES, where)
    _check_code(step, "or_feature", FEATURES, where)
    _check_list(step, "needs", [str(need) for need in Need], where)
    _check_list(step, "repeat_after", COMPONENT_KINDS, where)
    _check_code(step, "component", COMPONENT_KINDS, where)
    _check_code(step, "gas", GASES, where)
    _check_rated(step, where)
    _check_finds(step, where)
    _check_passages(step, where)
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


def _check_rated(step, where):
    """Refuse a rated value without a kind of component that may be rated for it."""
    if "rated" in step:
        kind = COMPONENT_KINDS.get(step.get("component"))
        rated = [one.key for one in kind.rated] if kind else []
        _check_code(step, "rated", rated or ["none without a component"], where)


def _check_finds(step, where):
    """Refuse a failure that no component is known for."""
    for text in step.get("finds", ()):
        try:
            read_failure(text)
        except ValueError as error:
            raise ProcedureError(f"{where}: finds = {error}") from None


def _check_passages(step, where):
    """Refuse a passage for equipment that is not known, and a curly bracket that belongs to none."""
    for key in WORDED:
        if problem := passage_problem(step.get(key, "")):
            raise ProcedureError(f"{where}: {key}: {problem}")


def _check_list(table, key, accepted, where):
    for code in table.get(key, []):
        _check_code({key: code}, key, accepted, where)


def _check_choices(step, test, where):
    offered = {spec.key: [value for value, _ in spec.options] for spec in test.choices}
    for key, value in step.get("choices", {}).items():
        if key not in offered:
            raise ProcedureError(
                f"{where}: {test.title} has no choice “{key}”. Accepted: {', '.join(offered) or 'none'}."
            )
        if value not in offered[key]:
            raise ProcedureError(f"{where}: {key} = “{value}” is not offered. Accepted: {', '.join(offered[key])}.")
    for key in step.get("from_record", {}):
        _check_code({"from_record": key}, "from_record", list(offered) or ["none, the test has no choice"], where)


def _own_limit(table, test, where):
    """A limit that the procedure file states itself, in its own unit."""
    accepted = {"key", "rule", "title", "lower", "upper", "unit", "source", "edition", "basis", "note"}
    _check_keys(table, accepted, {"key", "rule", "title", "unit", "source", "basis"}, where)
    check_shape(table, OF_LIMIT, where)
    spec = next((spec for spec in test.results if spec.key == table["key"]), None)
    if spec is None:
        known = ", ".join(spec.key for spec in test.results)
        raise ProcedureError(f"{where}: {test.title} has no result “{table['key']}”. Accepted: {known}.")
    if table["unit"] not in UNITS[spec.dimension]:
        units = ", ".join(UNITS[spec.dimension])
        raise ProcedureError(f"{where}: {spec.key} is not measured in “{table['unit']}”. Accepted: {units}.")
    bounds = {f"{end}_si": to_si(table[end], table["unit"]) if end in table else None for end in ("lower", "upper")}
    rest = {key: table[key] for key in accepted - {"lower", "upper", "edition"} if key in table}
    limit = Limit(**rest, **bounds, edition=table.get("edition", ""))
    refuse_limit(test, limit.key, limit)
    return limit
