"""The bench tests as they declare themselves, and the procedures that use them."""

from django.http import Http404
from ninja import Field, Path, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.types import Code
from inspections.api.answers import LimitOut
from inspections.bench import TESTS
from inspections.bench.serialise import test_to_dict
from inspections.models import Procedure

router = Router(tags=["Catalogues"])
READ = Token("inspections.view_procedure")


class TestOut(Schema):
    code: str
    family: str
    title: str
    purpose: str
    source: str
    cautions: list[str]


class ReadingSpecOut(Schema):
    key: str
    label: str
    dimension: str
    zero: str | None = Field(description="gauge or absolute for a pressure, unless the reading says otherwise.")
    units: list[str]
    help: str
    required: bool
    needs_instrument: bool


class TableSpecOut(Schema):
    key: str
    label: str
    columns: list[ReadingSpecOut]
    min_rows: int
    suggested_rows: int
    help: str


class ChoiceSpecOut(Schema):
    key: str
    label: str
    options: list[tuple[str, str]] = Field(description="Value and label of each.")
    default: str


class ResultSpecOut(Schema):
    key: str
    label: str
    dimension: str
    unit: str
    convention: str


class DefaultLimitOut(LimitOut):
    key: str = Field(description="Key of the result that it judges.")
    unit: str
    built_from: int | None = Field(description="Machines built in this year or later.")
    built_before: int | None = Field(description="Machines built before this year.")


class TestDetail(TestOut):
    readings: list[ReadingSpecOut]
    tables: list[TableSpecOut]
    choices: list[ChoiceSpecOut]
    rated: list[str] = Field(description="Rated values of the machine that it needs.")
    outcomes: list[ResultSpecOut]
    limits: list[DefaultLimitOut]


class ProcedureOut(Schema):
    code: str
    title: str
    interval_months: int | None
    window_days: int = Field(description="Days either side of the due date.")
    newest_number: int | None = Field(description="Number of the version in force.")


@router.get("/tests", response=list[TestOut], auth=READ, summary="Bench tests")
@paged
def bench_tests(request):
    return list(TESTS.values())


@router.get("/tests/{slug:code}", response=TestDetail, auth=READ, summary="A bench test with readings and limits")
def bench_test(request, code: Path[Code]):
    """The readings, units, tables and choices that a step with this test takes."""
    if code not in TESTS:
        raise Http404(f"There is no bench test “{code}”.")
    return test_to_dict(TESTS[code])


@router.get("/procedures", response=list[ProcedureOut], auth=READ, summary="Procedures")
@paged
def procedures(request, order: Query[order_choice("code", "title")] = "code"):
    return ordered(Procedure.objects.with_newest_version(), order)
