"""Every kind of kept rows, and when they are renewed: by actions, at night, after migrations."""

from functools import partial

from django.db.models.signals import post_migrate, post_save
from django.utils import timezone

from fleet.acting.scope import count_before_journal, renew_before_journal
from fleet.current_state.migrating import has_tables
from fleet.models import CircuitCover
from inspections.kept.due_dates import DUE_DATES
from inspections.kept.keeping import fill, renew_written
from inspections.kept.reviews import REVIEWS, after_cover
from inspections.kept_counts import counts
from inspections.models import KeptRules

KINDS = (DUE_DATES, REVIEWS)


def keep_rows():
    for kind in KINDS:
        renew_before_journal(partial(renew_written, kind))
    count_before_journal(counts.renew_written)
    post_save.connect(after_cover, sender=CircuitCover, dispatch_uid="kept-reviews")
    post_migrate.connect(after_migrations, dispatch_uid="kept-rows")


def after_migrations(sender, using, plan=(), **kwargs):
    """Fill the rows of every kind when anything was migrated, or they follow other rules."""
    if sender.label != "inspections" or not has_tables(using, plan, KeptRules):
        return
    known = dict(KeptRules.objects.using(using).values_list("kind", "rules"))
    for kind in KINDS:
        if plan or known.get(kind.name) != kind.rules():
            fill(kind, at=timezone.now(), day=timezone.localdate(), using=using)
    if plan or known.get(counts.NAME) != counts.rules():
        counts.fill_counts(at=timezone.now(), using=using)
