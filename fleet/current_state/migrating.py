"""Fill the rows after migrations: those of a new table, and all of them after the catalogue changed."""

from django.apps import apps
from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from fleet.catalogue.feature_bits import rules_digest
from fleet.current_state.comparing import mend_all
from fleet.models import CurrentState, CurrentStateRules


def after_migrations(sender, using, plan=(), **kwargs):
    """Renew every row after the last app, when anything was migrated or the rows follow other rules."""
    last = [config for config in apps.get_app_configs() if config.models_module is not None][-1]
    if sender.label != last.label or not has_tables(using, plan):
        return
    rules = CurrentStateRules.objects.using(using).values_list("rules", flat=True).first()
    if plan or rules != rules_digest():
        mend_all(at=timezone.now(), using=using)


def has_tables(using, plan, model=CurrentState):
    """Return whether the newest migrations are applied; not after one backwards, or to an older one."""
    connection = connections[using]
    if model._meta.db_table not in connection.introspection.table_names():
        return False
    if not plan:
        return True
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())
