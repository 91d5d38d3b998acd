"""Time of each bench test on its example, of a record as PDF and of a signature, beside empty function calls.

`python -m tests.benchmarks.bench_tests`; the last two take an inspection of the measured fleet on SQLite.
"""

from tests.benchmarks.databases import SQLITE, set_up

BASELINE = "1,000 empty calls"


def main():
    set_up()
    from tests.benchmarks.builder import build
    from tests.benchmarks.harness import measure, table

    print(table("Bench tests", measure(test_cases(), repeats=31), baseline=BASELINE))
    build(SQLITE)
    cases = {BASELINE: empty_calls, **record_cases()}
    print(table("\nRecords", measure(cases), baseline=BASELINE), flush=True)


def empty_calls():
    for _ in range(1000):
        nothing()


def nothing():
    pass


def test_cases():
    """Name -> evaluation of the example of each bench test, as the command line evaluates it."""
    from inspections.bench.examples import EXAMPLES

    return {BASELINE: empty_calls, **{code: evaluation(example) for code, example in EXAMPLES.items()}}


def evaluation(example):
    from inspections.bench import get_test
    from inspections.bench.serialise import context_from_dict, sheet_from_dict

    test, sheet = get_test(example["test"]), sheet_from_dict(example)
    context = context_from_dict(
        example["context"], test=test, rule=example.get("rule"), instruments=example["instruments"]
    )
    assert test.evaluate(sheet, context).results, f"the example of {test.code} gives no result"
    return lambda: test.evaluate(sheet, context)


def record_cases():
    from inspections.models import Inspection
    from inspections.reports.record import write_record

    yearly = Inspection.objects.with_place().filter(procedure__code="yearly")
    signed = yearly.signed().order_by("pk").first()
    return {
        f"record PDF, {len(write_record(signed, [])) // 1000} kB": lambda: write_record(signed, []),
        "signature, not committed": Signature(yearly.in_progress().order_by("pk").first()),
    }


class Signature:
    """Signs one inspection repeatedly, and rolls each transaction back."""

    def __init__(self, inspection):
        from inspections.actions import reasons_against_signing

        self.pk = inspection.pk
        assert reasons_against_signing(inspection) == []

    def __call__(self):
        from django.db import transaction
        from django.utils import timezone

        from inspections.actions import sign_inspection
        from inspections.models import Inspection

        with transaction.atomic():
            inspection = Inspection.objects.with_place().get(pk=self.pk)
            sign_inspection(inspection, by=inspection.technician, at=timezone.now())
            transaction.set_rollback(True)


if __name__ == "__main__":
    main()
