"""Two causes at once: a file of all pairs of one machine's causes that are both likely enough."""

import io

from django.urls import reverse
from django.utils import timezone

from fleet.circuit.causes import pairs_of
from fleet.circuit.cover import cover_table
from fleet.circuit.cover_rows import Status
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuits.covers.export import CSV_HEADER, csv_row
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.errors import JobRefused
from fleet.export.cells import CsvRows
from fleet.jobs import Result, job_kind
from fleet.models import Machine

CIRCUIT_PAIRS = "circuit-pairs"


@job_kind(CIRCUIT_PAIRS, "Pairs of causes in a gas circuit", permission="fleet.compute_circuitcover")
def compute_pairs(run):
    """Write the cover table of every pair of causes. params: machine (key) and at_least (a likelihood)."""
    machine = Machine.objects.visible_to(run.by).with_place().filter(pk=run.params["machine"]).first()
    if machine is None:
        raise JobRefused("This machine is not in the register, or at a site that you may not see. Choose another.")
    today = timezone.localdate(run.started_at)
    found = circuit_as_measured(machine, today, today=today)
    if not found.can_be_solved:
        raise JobRefused(f"Machine {machine} has no circuit that can be computed. Its page lists the problems.")
    circuit, _ = shared_circuit(machine, found)
    pairs = pairs_of(circuit, Likelihood(run.params["at_least"]))
    try:
        table = cover_table(circuit, causes=pairs, progress=lambda done, of: run.progress(done, of, "Pairs of causes"))
    except NoSolution as error:
        raise JobRefused(f"The ordinary use of machine {machine} has no steady flow: {error}") from error
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
    without = f", {len(table.unsolved)} pairs could not be computed" if table.unsolved else ""
    return f"{table.causes} pairs of causes checked, {opened} rows open{without}."
