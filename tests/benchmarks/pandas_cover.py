"""The counts of the cover report as a plain script over a workbook: the comparison of bench_cover.

The workbook has a row for each machine (model, area, a column for each safety feature), a sheet with the features that
a model does not need, and one with what replaces what.
"""

import pandas as pd
from openpyxl import Workbook, load_workbook

NOT_NEEDED, REPLACES = "not needed", "replaces"


def write_workbook(path, machines, features, not_needed, replaces):
    """Write the register as a department would keep it.

    machines    iterable of (model, area, state of each feature), in the order of `features`; no state = ""
    not_needed  pairs (model, feature); replaces  pairs (feature, the one that does its job)
    """
    book = Workbook(write_only=True)
    sheet = book.create_sheet("machines")
    sheet.append(["model", "area", *features])
    for row in machines:
        sheet.append(list(row))
    for name, pairs in ((NOT_NEEDED, not_needed), (REPLACES, replaces)):
        sheet = book.create_sheet(name)
        for pair in pairs:
            sheet.append(list(pair))
    book.save(path)


def counts_of(path, features):
    """Return feature -> (covered, gap, doubt, replaced, does not apply), and machines with a gap by area.

    features  code -> (is unwanted, counts as a gap in sums)
    """
    book = load_workbook(path, read_only=True, data_only=True)
    rows = book["machines"].iter_rows(values_only=True)
    frame = pd.DataFrame(rows, columns=next(rows))
    not_needed = set(book[NOT_NEEDED].iter_rows(values_only=True))
    stand_ins = {}
    for feature, other in book[REPLACES].iter_rows(values_only=True):
        stand_ins.setdefault(feature, []).append(other)
    totals, gaps = {}, pd.Series(False, index=frame.index)
    for code, (is_unwanted, is_counted) in features.items():
        standing = _standing(frame, code, is_unwanted, {m for m, f in not_needed if f == code}, stand_ins.get(code, []))
        totals[code] = tuple(int(each.sum()) for each in standing)
        gaps |= standing[1] & is_counted
    return totals, gaps.groupby(frame.area).sum().to_dict()


def _standing(frame, code, is_unwanted, unneeding, others):
    state = frame[code]
    unneeded = frame.model.isin(unneeding) & ((state != "fitted") | is_unwanted)
    is_replaced = (frame[others] == "fitted").any(axis=1)
    good, bad = ("not fitted", "fitted") if is_unwanted else ("fitted", "not fitted")
    covered = ~unneeded & (state == good)
    gap = ~unneeded & (state == bad) & ~is_replaced
    doubt = ~unneeded & ~state.isin(["fitted", "not fitted"]) & ~is_replaced
    return covered, gap, doubt, ~(unneeded | covered | gap | doubt), unneeded
