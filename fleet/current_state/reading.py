"""Whether the rows can be used. Where they cannot, pages ask the history, which is slower and says the same."""

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Exists

from fleet.catalogue.feature_bits import rules_digest
from fleet.current_state.renewing import renew_collected
from fleet.models import CurrentState, CurrentStateRules


def is_kept(using=DEFAULT_DB_ALIAS):
    """Return whether every machine has a row by the present rules; each row names the day from which it holds."""
    renew_collected(using)
    return CurrentStateRules.objects.using(using).filter(rules=rules_digest()).exists()


def holds_on(day, using=DEFAULT_DB_ALIAS):
    """Return whether every row says what was so on `day`; one query.

    Not on a day before the last change of a safety feature, nor while the rows were computed by other rules.
    """
    renew_collected(using)
    later = CurrentState.objects.using(using).filter(holds_from__gt=day)
    rules = CurrentStateRules.objects.using(using).filter(rules=rules_digest())
    return rules.annotate(is_later=Exists(later)).values_list("is_later", flat=True).first() is False
