"""List, describe and evaluate bench tests from the command line, without the database."""

import json
import sys

from django.core.management.base import BaseCommand, CommandError

from fleet.caution import COMES_FIRST, NEVER_CLEARS, QUALIFIED
from fleet.management.command_input import read_text
from inspections.bench import TESTS, BenchError, Test, UnknownTest, get_test
from inspections.bench.decision_words import decision_words
from inspections.bench.examples import EXAMPLES
from inspections.bench.guard import evaluate
from inspections.bench.json_text import parse_json, shown
from inspections.bench.serialise import context_from_dict, evaluation_to_dict, sheet_from_dict, test_to_dict

INCOMPLETE = 3
MOST_BYTES = 1_000_000  # an example has about 3,000
MOST_INDENT = 16
NOT_OF_A_SITE = (
    "Evaluated without a site: no limit is confirmed, and the rules are those named in the file, else the defaults."
)
_KNOWN = ("test", "context", "rule", "instruments", "values", "tables", "choices")


class Command(BaseCommand):
    help = (
        "Bench tests. list: all tests. describe CODE: what a test needs, with an example. evaluate FILE: "
        "read one test's readings as JSON (- is standard input) and print the results as JSON. Exit status: "
        "0 evaluated, whatever was decided; 1 the file contains an error; 2 wrong use; 3 readings are missing."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser):
        actions = parser.add_subparsers(dest="action", required=True)
        actions.add_parser("list", help="list the tests")
        describe = actions.add_parser("describe", help="describe one test")
        describe.add_argument("code")
        form = describe.add_mutually_exclusive_group()
        form.add_argument("--json", action="store_true", help="print the declaration as JSON")
        form.add_argument("--example", action="store_true", help="print the example alone, ready for evaluate")
        evaluate = actions.add_parser("evaluate", help="evaluate one test")
        evaluate.add_argument("file")
        evaluate.add_argument(
            "--indent",
            type=int,
            choices=range(MOST_INDENT + 1),
            metavar="SPACES",
            help=f"indent the JSON by so many spaces, 0 to {MOST_INDENT}",
        )

    def handle(self, *args, action, **options):
        getattr(self, f"_{action}")(**options)

    def _list(self, **options):
        width = max(map(len, TESTS))
        for test in TESTS.values():
            self.stdout.write(f"{test.code:<{width}}  {test.title}")

    def _describe(self, *, code, json, example, **options):
        test = _known_test(code)
        if json:
            self.stdout.write(_dumped(test_to_dict(test), 2))
        elif example:
            self.stdout.write(_dumped(EXAMPLES[code], 2))
        else:
            self.stdout.write(_described(test))

    def _evaluate(self, *, file, indent, **options):
        data = _loaded(file)
        try:
            test, result = _evaluated(data)
        except UnknownTest as error:
            raise CommandError(f"{file}: test: {error}") from None
        except BenchError as error:
            raise CommandError(f"{file}: {error.key}: {error}") from None
        cautions = [*test.cautions, f"{QUALIFIED} {COMES_FIRST}", NOT_OF_A_SITE, NEVER_CLEARS]
        self.stdout.write(_dumped({"test": test.code, "title": test.title, "cautions": cautions, **result}, indent))
        if result["missing"]:
            sys.exit(INCOMPLETE)


def _known_test(code: str) -> Test:
    try:
        return get_test(code)
    except UnknownTest as error:
        raise CommandError(str(error)) from None


def _dumped(data, indent: int | None) -> str:
    return json.dumps(data, indent=indent, ensure_ascii=False, allow_nan=False)


def _loaded(file: str) -> dict:
    try:
        data = parse_json(read_text(file, most_bytes=MOST_BYTES))
    except BenchError as error:
        raise CommandError(f"{file} {error}") from None
    if not isinstance(data, dict):
        raise CommandError(f"{file}: give one JSON object with the names {', '.join(_KNOWN)}.")
    unknown = [key for key in data if key not in _KNOWN]
    if unknown:
        raise CommandError(f'{file}: "{unknown[0][:60]}" is not known here. Known: {", ".join(_KNOWN)}.')
    return data


def _evaluated(data: dict) -> tuple[Test, dict]:
    code = data.get("test") or ""
    if not isinstance(code, str):
        raise BenchError("test", f"give the code of a test as text, got {shown(code)}.")
    test = get_test(code)
    context = context_from_dict(
        data.get("context"), test=test, rule=data.get("rule"), instruments=data.get("instruments")
    )
    evaluation = evaluation_to_dict(evaluate(test, sheet_from_dict(data), context))
    for result in evaluation["outcomes"]:
        is_confirmed = None if result["unit"] == "yes/no" else False
        result["decision_in_words"] = decision_words(result["decision"], is_confirmed)
    return test, evaluation


def _described(test: Test) -> str:
    lines = [f"{test.code}: {test.title}", test.purpose, ""]
    lines += [f"CAUTION: {caution}" for caution in test.cautions]
    lines += ["", "Readings (values)"]
    lines += [f"  {_spec_line(spec)}" for spec in test.readings]
    for table in test.tables:
        lines += ["", f"Table {table.key}: {table.label}; {table.min_rows} rows or more. {table.help}".rstrip()]
        lines += [f"  {_spec_line(spec)}" for spec in table.columns]
    for choice in test.choices:
        lines += ["", f"Choice {choice.key}: {choice.label} (default {choice.default})"]
        lines += [f"  {value}: {label}" for value, label in choice.options]
    lines += ["", "Results"]
    lines += [f"  {spec.key} [{spec.unit}]: {spec.label}; {spec.convention}" for spec in test.results]
    lines += ["", "Limits (rule: title; source; edition; basis)"]
    lines += [f"  {_limit_line(limit)}" for limit in test.default_limits]
    lines += ["", f"Source: {test.source}", "", "Example, for evaluate:", _dumped(EXAMPLES[test.code], 2)]
    return "\n".join(lines)


def _spec_line(spec) -> str:
    zero = f" {spec.zero.value}" if spec.zero else ""
    need = "" if spec.required else ", optional"
    note = f": {spec.help}" if spec.help else ""
    return f"{spec.key} [{', '.join(spec.units)}{zero}]: {spec.label}{need}{note}"


def _limit_line(limit) -> str:
    years = {(True, True): "", (False, True): f"; built {limit.built_from} or later",
             (True, False): f"; built before {limit.built_before}"}.get(
        (limit.built_from is None, limit.built_before is None),
        f"; built {limit.built_from} to {(limit.built_before or 1) - 1}")  # fmt: skip
    note = f". {limit.note}" if limit.note else ""
    return f"{limit.key}, {limit.rule}: {limit.title}; {limit.source}; {limit.edition}; {limit.basis}{years}{note}"
