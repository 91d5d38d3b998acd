"""Compare every row with what it should be, a batch at a time, and mend it."""

from django.db import DEFAULT_DB_ALIAS

from fleet.acting.scope import transaction_for
from fleet.catalogue.feature_bits import rules_digest
from fleet.current_state.renewing import AT_ONCE, compared, renew
from fleet.models import CurrentState, CurrentStateRules, Machine


def batches(using=DEFAULT_DB_ALIAS):
    """Return the keys of all machines, and of the rows of machines that are gone, in batches."""
    keys = set(Machine.objects.using(using).order_by().values_list("pk", flat=True))
    keys |= set(CurrentState.objects.using(using).order_by().values_list("pk", flat=True))
    keys = sorted(keys)
    return [keys[first : first + AT_ONCE] for first in range(0, len(keys), AT_ONCE)]


def compare_all(using=DEFAULT_DB_ALIAS, each=iter):
    """Yield every Difference and change nothing. `each` goes through the batches, such as to show progress."""
    for keys in each(batches(using)):
        yield from compared(keys, using)


def mend_all(*, at, using=DEFAULT_DB_ALIAS, each=iter):
    """Renew every row, and note that all of them follow the present rules. Return the Differences that there were."""
    found = [one for keys in each(batches(using)) for one in renew(keys, using)]
    with transaction_for(using):
        CurrentStateRules.objects.using(using).update_or_create(
            pk=1, defaults={"rules": rules_digest(), "filled_at": at}
        )
    return found
