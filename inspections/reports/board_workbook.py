"""What a sum can close as a workbook: the frontier with a chart, the machines of the plan, and what it rests on."""

from fleet.catalogue.currencies import from_smallest_units
from fleet.export.cells import new_workbook, workbook_bytes, xlsx_row
from fleet.late import openpyxl_charts
from inspections.retirement.shown_choice import UNIT, WHAT_IT_SAYS


def write_board_workbook(shown) -> bytes:
    """Return the workbook; amounts are numbers in the currency, without words beside them."""
    book = new_workbook()
    _frontier(book.create_sheet("Frontier"), shown)
    _machines(book.create_sheet("Machines"), shown)
    _basis(book.create_sheet("Basis"), shown)
    return workbook_bytes(book)


def _money(units, currency):
    """An amount as the number of a cell; money is reckoned in whole smallest units everywhere else."""
    return float(from_smallest_units(units, currency))


def _frontier(sheet, shown):
    currency, rows = shown.choice.currency, shown.frontier
    head = [
        f"{currency} a year",
        f"left, {UNIT}",
        f"no plan leaves less than, {UNIT}",
        "left, %",
        "machines",
        "bound reached",
    ]
    sheet.append(xlsx_row(sheet, head))
    for row in rows:
        cells = [
            _money(row.yearly, currency),
            row.left,
            row.bound,
            row.part,
            row.done,
            "yes" if row.is_proved else "no",
        ]
        sheet.append(xlsx_row(sheet, cells))
    chart = openpyxl_charts.ScatterChart(scatterStyle="lineMarker")
    chart.title, chart.style = "Exposure left for each sum", 13
    chart.x_axis.title, chart.y_axis.title = f"{currency} a year", UNIT
    chart.x_axis.delete = chart.y_axis.delete = False
    money = openpyxl_charts.Reference(sheet, min_col=1, min_row=2, max_row=len(rows) + 1)
    for column in (2, 3):
        values = openpyxl_charts.Reference(sheet, min_col=column, min_row=1, max_row=len(rows) + 1)
        chart.series.append(openpyxl_charts.Series(values, money, title_from_data=True))
    sheet.add_chart(chart, "H2")


def _machines(sheet, shown):
    currency = shown.choice.currency
    head = [
        "year", "asset_number", "rank", "model", "place", "conclusion", "what", f"money_{currency.lower()}", "minutes",
        "closes_hazard_weight_years",
    ]  # fmt: skip
    sheet.append(xlsx_row(sheet, head))
    for each in shown.machines:
        cells = [
            each.year, each.machine, each.rank, each.model, each.where, each.conclusion, each.what,
            _money(each.money, currency), each.minutes, each.closes,
        ]  # fmt: skip
        sheet.append(xlsx_row(sheet, cells))


def _basis(sheet, shown):
    rows = [("Answer", shown.answer), ("Proof", shown.proof), *(("What if", words) for words in shown.what_if)]
    rows += shown.limits
    rows += [("Weights", words) for words in shown.result["weights"]]
    rows += [("Not known", f"{words} ({number})") for words, number in shown.result["unknown"]]
    rows += [("Exposure", words) for words in WHAT_IT_SAYS]
    rows.append(("SHA-256 of the inputs", shown.choice.digest))
    for row in rows:
        sheet.append(xlsx_row(sheet, row))
