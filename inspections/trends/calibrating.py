"""How wide predictions must be, learnt from the latest result of each series that was predicted without it.

The model explains most results; resolution of a gauge, a change of instrument or a step of wear does not follow it. So
the scale of the predictions of each kind is multiplied by what makes 90 % of intervals hold the latest known result.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fleet.late import np, special

from .fitting import Fitted, fit
from .histories import Histories
from .predicting import predicted

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 3  # results in the last stretch, of which the last is predicted from the others
LIKE_THE_MODEL = 10  # results that the model itself counts for beside those of a kind; common practice, no source
HELD = 0.9


def trends_of(histories: Histories) -> Fitted:
    """Return the trends of all series, with the width of their predictions learnt for each kind."""
    fitted = fit(histories)
    return replace(fitted, widening=widening_of(histories)[histories.kind[histories.family]])


def widening_of(histories: Histories) -> NDArray[np.float64]:
    """Return for each kind by what to multiply the scale of its predictions, shape (K,): 1 or more."""
    kinds = int(histories.kind.max()) + 1
    last = _last_results(histories)
    found = np.ones(kinds)
    if not len(last):
        return found
    rest = _without(histories, last)
    series = histories.series[last]
    ahead = predicted(fit(rest), histories.years[last], series=series, variances=histories.base_variances()[last])
    away = np.abs(histories.values[last] - ahead.value) / (ahead.scale * special.stdtrit(ahead.dof, (1 + HELD) / 2))
    kind = histories.kind[histories.family[series]]
    for one in np.unique(kind):
        found[one] = _quantile(away[kind == one], float(np.median(ahead.dof[kind == one])))
    return found


def _last_results(histories):
    """Return where the last results of the series lie whose last stretch holds enough of them."""
    starts = histories.starts_of_stretches()
    ends = np.append(starts[1:], len(histories.series)) - 1
    is_last = np.append(np.diff(histories.series[starts]) != 0, True)
    return ends[is_last & (ends - starts + 1 >= FEWEST)]


def _without(histories, dropped):
    kept = np.ones(len(histories.series), dtype=bool)
    kept[dropped] = False
    columns = ("series", "years", "values", "std", "stretch")
    return replace(histories, **{name: getattr(histories, name)[kept] for name in columns})


def _quantile(away, dof):
    """Return the quantile of the distances that holds HELD of them, with some that follow the model among them."""
    steps = (np.arange(LIKE_THE_MODEL) + 0.5) / LIKE_THE_MODEL
    model = special.stdtrit(dof, (1 + steps) / 2) / special.stdtrit(dof, (1 + HELD) / 2)
    both = np.sort(np.concatenate([away, model]))
    rank = HELD * (len(both) + 1)
    return max(1.0, float(np.interp(rank, np.arange(1, len(both) + 1), both)))
