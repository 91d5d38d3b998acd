"""Two causes at once: every pair of one machine's causes that are both met often enough, as a file."""

import io

from django.urls import reverse
from django.utils import timezone

from fleet.circuit.causes import pairs_of
from fleet.circuit.cover import cover_table
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuit.table import Status
from fleet.circuit_covers.export import CSV_HEADER, csv_row
from fleet.circuit_covers.sharing import shared_circuit
from fleet.errors import JobRefused
from fleet.export.cells import CsvRows
from fleet.jobs import Result, job_kind
from fleet.machine_circuit import circuits_of
from fleet.models import Machine

CIRCUIT_PAIRS = "circuit-pairs"


@job_kind(CIRCUIT_PAIRS, "Pairs of causes in a gas circuit", permission="fleet.compute_circuitcover")
def compute_pairs(run):
    """Write the cover table of every pair of causes. params: machine (key) and at_least (a likelihood)."""
    machine = Machine.objects.visible_to(run.by).with_place().filter(pk=run.params["machine"]).first()
    if machine is None:
        raise JobRefused("This machine is no longer in the register, or belongs to a site that you cannot access.")
    found = circuits_of([machine], today=timezone.localdate(run.started_at))[machine.pk]
    if not found.can_be_solved:
        raise JobRefused(f"Machine {machine} has no circuit that can be computed: see the page of the machine.")
    circuit, _ = shared_circuit(machine, found)
    pairs = pairs_of(circuit, Likelihood(run.params["at_least"]))
    try:
        table = cover_table(circuit, causes=pairs, progress=lambda done, of: run.progress(done, of, "Pairs of causes"))
    except NoSolution as error:
        raise JobRefused(f"No steady flow was found for ordinary use of machine {machine}: {error}") from error
    name = f"pairs-{machine.pk}-{run.started_at:%Y-%m-%d}.csv"
    return Result(_words(table), _file(table), name, link=reverse("fleet:machine_cover", args=[machine.pk]))


def _file(table):
    file = io.BytesIO()
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="", write_through=True)
    rows = CsvRows(text)
    rows.write(CSV_HEADER)
    rows.write_all(csv_row(row) for row in table.rows)
    text.detach()
    return file


def _words(table):
    opened = sum(row.status is Status.OPEN for row in table.rows)
    without = f", {len(table.unsolved)} pairs not solved" if table.unsolved else ""
    return f"{table.causes} pairs of causes computed, {opened} rows are open{without}."
