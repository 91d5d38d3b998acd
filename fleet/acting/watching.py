"""Reports single writes to the open action: saved and deleted rows, and many-to-many sets."""

from django.db.models.signals import m2m_changed, post_save, pre_delete, pre_save

from fleet.acting.covered import covered_models, covers
from fleet.acting.rows import read_states
from fleet.acting.scope import open_scope


def watch():
    for model in covered_models():
        uid = f"journal-{model._meta.label_lower}"
        pre_save.connect(_before_save, sender=model, dispatch_uid=uid)
        post_save.connect(_after_save, sender=model, dispatch_uid=uid)
        pre_delete.connect(_before_delete, sender=model, dispatch_uid=uid)
        for field in model._meta.many_to_many:
            through = field.remote_field.through
            m2m_changed.connect(_many_changed, sender=through, dispatch_uid=f"{uid}-{field.name}")


def _before_save(sender, instance, using, update_fields, **kwargs):
    if not instance._state.adding and covers(sender, update_fields):
        note_written(sender, [instance.pk], using)


def _after_save(sender, instance, using, update_fields, **kwargs):
    scope = open_scope(using)
    if scope is not None and covers(sender, update_fields):
        scope.note(sender, {instance.pk: None})


def _before_delete(sender, instance, using, **kwargs):
    note_written(sender, [instance.pk], using)


def _many_changed(sender, instance, action, reverse, model, pk_set, using, **kwargs):
    """Before a set changes, record the rows that own the field; from the reverse side these are in `pk_set`."""
    if action not in ("pre_add", "pre_remove", "pre_clear"):
        return
    if not reverse:
        note_written(instance.__class__, [instance.pk], using)
    elif pk_set is None:
        note_written(model, _owners(sender, instance, model, using), using)
    else:
        note_written(model, pk_set, using)


def _owners(through, instance, model, using):
    field = next(one for one in model._meta.many_to_many if one.remote_field.through is through)
    of_instance = through._base_manager.using(using).filter(**{field.m2m_reverse_field_name(): instance.pk})
    return list(of_instance.values_list(f"{field.m2m_field_name()}_id", flat=True))


def note_written(model, keys, using):
    """Tell the open action that rows are about to change."""
    scope = open_scope(using)
    if scope is None or not covers(model):
        return
    new = [pk for pk in keys if not scope.knows(model, pk)]
    if new:
        scope.note(model, dict.fromkeys(new) | read_states(model, new, using))
