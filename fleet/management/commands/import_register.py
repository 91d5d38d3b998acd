"""Import a register file, all rows or none."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.characters import encodable, printable
from fleet.confined import IN_BACKGROUND
from fleet.errors import Refused
from fleet.extensions import procedure_choices
from fleet.imports import Scope, parse_upload, plan_import
from fleet.imports.uploads import import_register
from fleet.models import Person
from fleet.register_file import DATE_ORDERS, ENCODINGS, KINDS, MAX_BYTES, Settings

DELIMITER_NAMES = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}


class Command(BaseCommand):
    help = (
        "Import a CSV or XLSX file of machines, instruments, points of calibration certificates, components or earlier "
        "inspections. If there is any problem, nothing is imported and every problem is listed. If the file can be "
        "read in more than one way, the command names the option to use."
    )

    def add_arguments(self, parser):
        add = parser.add_argument
        add("file", type=Path, help="CSV or XLSX file")
        add("--kind", choices=tuple(KINDS), default="machines", help="what the file lists; default: machines")
        add("--dry-run", action="store_true", help="show what would change, and change nothing")
        add("--by", metavar="USERNAME", help="the person shown in the history; default: nobody")
        add("--sheet", help="name of the sheet of a workbook")
        add("--header-row", type=int, metavar="ROW", help="number of the header row, from 1")
        add(
            "--mapping", action="append", default=[], metavar="HEADER=COLUMN",
            help="the column of a header; HEADER= leaves it out; can be repeated",
        )  # fmt: skip
        add("--leave-out-unknown", action="store_true", help="leave out every column that is not recognised")
        add("--date-order", choices=tuple(DATE_ORDERS), help="how dates such as 03/04/2019 are written")
        add("--encoding", choices=tuple(ENCODINGS), help="encoding of the text")
        add("--delimiter", choices=tuple(DELIMITER_NAMES), help="separator of the columns of a CSV file")
        add(
            "--counts-as",
            metavar="PROCEDURE",
            help="procedure towards whose due date earlier inspections count; empty for none",
        )

    def handle(self, *, file, dry_run, by, kind, **options):
        now, kind = timezone.now(), KINDS[kind]
        _check_procedure(options["counts_as"])
        person = _person(by)
        parsed = self._parse(_content(file), kind, _settings(kind, options), options["leave_out_unknown"])
        if parsed.table:
            self.stdout.write("\n".join([f"Read as {parsed.table.source}.", *parsed.notes]))
        self._ask(file, parsed.questions)
        plan = plan_import(parsed, Scope.of(person, timezone.localdate(now), options["counts_as"] or ""))
        if plan.problems:
            self.stderr.write("\n".join(str(problem) for problem in plan.problems))
            raise CommandError(f"{file.name}: {len(plan.problems)} problems, nothing imported.")
        self._tell(plan, will_be="would be" if dry_run else "are")
        if not dry_run:
            _carry_out(plan, by=person, at=now, source=encodable(printable(file.name)))

    def _parse(self, content, kind, settings, leaves_out):
        parsed = parse_upload(content, kind, settings, limits=IN_BACKGROUND)
        unknown = {one.label: "" for one in parsed.mapped if not one.how}
        if not (leaves_out and unknown):
            return parsed
        self.stdout.write(f"Columns left out: {', '.join(unknown)}.")
        columns = {one.label: one.column for one in parsed.mapped if one.how} | unknown
        said = Settings(**settings.as_json() | {"columns": columns})
        return parse_upload(content, kind, said, limits=IN_BACKGROUND)

    def _ask(self, file, questions):
        for question in questions:
            self.stderr.write(question.text)
        if any(question.is_open for question in questions):
            raise CommandError(
                f"{file.name} can be read in more than one way; nothing is imported. Choose with --mapping, "
                "--leave-out-unknown, --date-order, --encoding, --delimiter, --header-row or --sheet."
            )

    def _tell(self, plan, *, will_be):
        for update in plan.updated:
            for change in update.changes:
                self.stdout.write(f"{update.label}: {change.column} “{change.before}” becomes “{change.after}”")
        self.stdout.write(
            f"{len(plan.created)} {plan.kind.many} {will_be} entered, {len(plan.updated)} corrected, "
            f"{plan.unchanged} unchanged."
        )


def _settings(kind, options):
    columns = {}
    for pair in options["mapping"]:
        label, equals, column = pair.rpartition("=")
        if not equals or column not in ("", *kind.columns):
            raise CommandError(
                f"--mapping {pair!r} is not HEADER=COLUMN. Columns: {', '.join(kind.columns)}; none to leave it out."
            )
        columns[label] = column
    return Settings(
        encoding=options["encoding"],
        delimiter=DELIMITER_NAMES.get(options["delimiter"]),
        sheet=options["sheet"],
        header_row=options["header_row"],
        date_order=options["date_order"],
        columns=columns,
        counts_as=options["counts_as"],
    )


def _check_procedure(code):
    codes = [known for known, _ in procedure_choices()]
    if code and code not in codes:
        raise CommandError(f"--counts-as {code}: there is no such procedure with an interval. Accepted: {codes}.")


def _content(file):
    try:
        with file.open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror}. Enter the path of a file.") from None


def _person(username):
    if username is None:
        return None
    try:
        return Person.objects.get(username=username)
    except Person.DoesNotExist:
        raise CommandError(f"Nobody has the username “{username}”. Enter the username of an account.") from None


def _carry_out(plan, **details):
    try:
        import_register(plan, **details)
    except Refused as refused:
        raise CommandError(str(refused)) from None
