"""Pictures of the fleet: age by model with the end of support, safety features over the years, findings by code."""

from collections import Counter, defaultdict

from django.db.models import Count, Q
from django.db.models.functions import ExtractYear, TruncMonth

from fleet.catalogue import FEATURES, FeatureClass
from fleet.drawing.grid import Cell, GridRow, describe_grid, grid
from fleet.models import FeatureState, MachineModel, MachineStatus, State
from inspections.models import Finding
from inspections.pictures.picture import Picture
from inspections.planning.failure_codes import CODES

MOST_MODELS = 40
MOST_YEARS = 15
MOST_MONTHS = 36
LONGEST_AXIS = 45  # years of building and support in one picture


def age_by_model(machines, today):
    """Machines that are not retired by model and year of building, with the end of support; two queries."""
    counts = defaultdict(Counter)
    rows = machines.not_retired().order_by().values_list("model", "built_year").annotate(n=Count("pk", distinct=True))
    for model, year, number in rows:
        counts[model][year] += number
    models = list(MachineModel.objects.filter(pk__in=counts).defer("circuit", "description"))
    models.sort(key=lambda model: (min((year for year in counts[model.pk] if year), default=9999), str(model)))
    models = models[:MOST_MODELS]
    years = _years(models, counts, today.year)
    most = max((number for model in models for number in counts[model.pk].values()), default=1)
    lines = [_model_row(model, counts[model.pk], years, most, today) for model in models]
    columns = [str(year) for year in years]
    key = "Machines built in each year. The upright stroke is the end of spare parts and service; “!” is past it."
    return Picture(
        "age",
        "Age by model, and end of support",
        f"Machines that are not retired, the oldest models first, {MOST_MODELS} at most.",
        lambda width, text: grid(columns, lines, width=width, text=text, key=key),
        describe_grid(columns, lines),
        ("Model", "Machines", "Built from", "Built until", "Year not known", "Support until"),
        [_age_line(model, counts[model.pk]) for model in models],
        "No machine is in the register.",
    )


def _years(models, counts, this_year):
    built = [year for model in models for year in counts[model.pk] if year]
    ends = [model.parts_until.year for model in models if model.parts_until]
    last = max([this_year, *ends])
    first = max(min([*built, this_year]), last - LONGEST_AXIS)
    return list(range(first, last + 1))


def _model_row(model, counts, years, most, today):
    is_past = bool(model.parts_until and model.parts_until < today)
    cells = [Cell()] * len(years)
    for year, number in counts.items():
        if year is not None:
            place = max(0, year - years[0])
            cells[place] = Cell(str(number), number / most, is_past)
    mark = None
    if model.parts_until and model.parts_until.year >= years[0]:
        mark = model.parts_until.year - years[0] + model.parts_until.timetuple().tm_yday / 366
    return GridRow(str(model), tuple(cells), mark)


def _age_line(model, counts):
    built = [year for year in counts if year]
    until = model.parts_until.isoformat() if model.parts_until else "not known"
    return (model, sum(counts.values()), min(built, default="–"), max(built, default="–"), counts[None], until)


def features_over_the_years(machines, today):
    """The share of machines with each safety feature fitted at each year's end, and today; four queries."""
    fitted, of_machines = _fitted_spans(machines), _machine_spans(machines)
    first = max(min((since for since, _ in of_machines), default=today.year), today.year - MOST_YEARS + 1)
    years = list(range(first, today.year + 1))
    total = [_there(of_machines, year) for year in years]
    shown = [code for code, feature in FEATURES.items() if feature.is_unwanted or feature.feature_class in _SHOWN]
    rows = [_feature_row(FEATURES[code], fitted[code], years, total) for code in shown if fitted[code]]
    columns = [*(str(year) for year in years[:-1]), "today"] if years else []
    key = "Per cent of the machines then in the register that have the feature. Unwanted ones bear a “!”."
    return Picture(
        "features",
        "Safety features over the years",
        "At the end of each year and today, as recorded; retired machines count until the year before they were "
        "retired. Essential and expected features, and unwanted ones.",
        lambda width, text: grid(columns, rows, width=width, text=text, key=key),
        describe_grid(columns, rows),
        ("Safety feature", *columns),
        [(row.words, *(cell.words or "0" for cell in row.cells)) for row in rows],
        "No safety feature is recorded.",
    )


_SHOWN = (FeatureClass.ESSENTIAL, FeatureClass.EXPECTED)


def _feature_row(feature, spans, years, total):
    cells = []
    for year, number in zip(years, total, strict=True):
        share = _there(spans, year) / number if number else 0.0
        is_alarm = feature.is_unwanted and share > 0
        cells.append(Cell(f"{100 * share:.0f}" if share else "", share, is_alarm))
    return GridRow(feature.name, tuple(cells))


def _there(spans, year):
    """Return the sum of what began by the end of a year and was not over then."""
    return sum(number for (since, until), number in spans.items() if since <= year and (until is None or until > year))


def _machine_spans(machines):
    """Count machines by the year of their first day and that of their retirement."""
    found = Counter()
    for since, number in _counted(machines.not_retired(), "in_use_from"):
        found[since, None] += number
    rows = _retired(machines).values_list(ExtractYear("in_use_from"), ExtractYear("status_changes__changed_on"))
    for since, until, number in rows.annotate(n=Count("pk", distinct=True)):
        found[since, until] += number
    return found


def _counted(machines, column):
    return machines.order_by().values_list(ExtractYear(column)).annotate(n=Count("pk", distinct=True))


def _retired(machines):
    retired = Q(status=MachineStatus.RETIRED, status_changes__status=MachineStatus.RETIRED)
    return machines.filter(retired).order_by()


def _fitted_spans(machines):
    """Count by feature the periods for which one is fitted, by the years in which they began and ended."""
    found = defaultdict(Counter)
    states = FeatureState.objects.filter(state=State.FITTED).order_by()
    columns = ("feature", ExtractYear("from_date"), ExtractYear("until_date"))
    there = states.filter(machine__in=machines.not_retired().order_by().values("pk"))
    for feature, since, until, number in there.values_list(*columns).annotate(n=Count("pk")):
        found[feature][since, until] += number
    gone = states.filter(
        machine__in=_retired(machines).values("pk"), machine__status_changes__status=MachineStatus.RETIRED
    )
    columns = (*columns, ExtractYear("machine__status_changes__changed_on"))
    for feature, since, until, retired, number in gone.values_list(*columns).annotate(n=Count("pk", distinct=True)):
        found[feature][since, min(until or retired, retired)] += number
    return found


def findings_by_code_over_time(machines, first, last):
    """Findings about faults by the month in which they were opened and by code; one query."""
    rows = Finding.objects.of_faults().filter(
        machine__in=machines.order_by().values("pk"), opened_at__date__gte=first, opened_at__date__lte=last
    )
    counts = defaultdict(Counter)
    months = rows.order_by().values_list(TruncMonth("opened_at"), "code").annotate(n=Count("pk"))
    for month, code, number in months:
        counts[code][month.year, month.month] += number
    axis = _months(first, last)
    most = max((number for each in counts.values() for number in each.values()), default=1)
    titles = {**{code: entry.title for code, entry in CODES.items()}, "": "Without a code"}
    codes = sorted(counts, key=lambda code: (code == "", -sum(counts[code].values()), titles.get(code, code)))
    lines = [_code_row(titles.get(code, code), counts[code], axis, most) for code in codes]
    columns = [f"{year}-{month:02}" for year, month in axis]
    return Picture(
        "findings",
        "Findings by code over time",
        "Failed results and fault reports by the month in which the finding was opened.",
        lambda width, text: grid(columns, lines, width=width, text=text),
        describe_grid(columns, lines),
        ("Code", "Findings", *columns),
        [(titles.get(code, code), sum(counts[code].values()), *(counts[code][month] for month in axis))
         for code in codes],
        "No finding was opened in this period.",
    )  # fmt: skip


def _code_row(words, counts, axis, most):
    cells = tuple(Cell(str(counts[month]) if counts[month] else "", counts[month] / most) for month in axis)
    return GridRow(words, cells)


def _months(first, last):
    """Return (year, month) from the first to the last day, the newest MOST_MONTHS at most."""
    number = (last.year - first.year) * 12 + last.month - first.month + 1
    start = first.year * 12 + first.month - 1
    places = [divmod(start + place, 12) for place in range(max(0, number - MOST_MONTHS), number)]
    return [(year, month + 1) for year, month in places]
