"""The models and columns that the journal covers: all of Bobbin's own, except those left out with a reason."""

from functools import cache
from hashlib import sha256

from django.apps import apps
from django.contrib.auth.models import Group

APPS = ("fleet", "inspections")
LEFT_OUT_COLUMNS = {
    "fleet.alterationofmachine": {"effect": "computed from the circuits, and again on request"},
    "fleet.person": {
        "password": "written by Django's own forms, and again at a login when hashing gets stronger",
        "last_login": "written at every login",
    },
    "fleet.passkey": {"sign_count": "written by every use", "used_at": "written by every use"},
    "fleet.apitoken": {"last_used_on": "written by use, once a day"},
    "inspections.attachment": {"content": "its digest is a column beside it, and verification compares the two"},
    "inspections.faultphotograph": {"content": "its digest is a column beside it, and verification compares the two"},
    "inspections.photograph": {
        "content": "its digest is a column beside it, and verification compares the two",
        "preview": "its digest is a column beside it, and verification compares the two",
    },
}
_left_out = {}
_exempt = {}


def leave_out(reason, *models):
    """Exclude models from the journal, with the reason."""
    _left_out.update(dict.fromkeys(models, reason))


def exempt(model, condition):
    """Declare that rows of `model` that fulfil `condition` need no entry, because another chain covers them."""
    _exempt[model] = condition


def exempt_condition(model):
    return _exempt.get(model)


def left_out():
    return dict(_left_out)


@cache
def covered_models():
    own = [model for app in APPS for model in apps.get_app_config(app).get_models()]
    return tuple(model for model in (Group, *own) if model not in _left_out)


@cache
def columns_of(model):
    """Return the columns of a model that the journal stores: the key first, many-to-many fields by name last.

    They are named as in the database, so that entries stay valid when a field is renamed.
    """
    left_out_columns = LEFT_OUT_COLUMNS.get(model._meta.label_lower, {})
    columns = [one.column for one in model._meta.concrete_fields if one.name not in left_out_columns]
    key = model._meta.pk.column
    return (key, *(name for name in columns if name != key), *(field.name for field in model._meta.many_to_many))


def covers(model, fields=None):
    """Return whether the journal covers a model, and any of the named `fields` if they are given."""
    if model not in covered_models():
        return False
    columns = columns_of(model)
    return fields is None or any(_column(model, name) in columns for name in fields)


def _column(model, name):
    field = model._meta.pk if name == "pk" else model._meta.get_field(name)
    return getattr(field, "column", None) or field.name


@cache
def layout_of(model):
    """Return a short name for the columns that the journal stores of a model, which changes whenever they change."""
    return layout_name(model._meta.db_table, columns_of(model))


def layout_name(table, columns):
    return sha256(" ".join((table, *columns)).encode()).hexdigest()[:12]
