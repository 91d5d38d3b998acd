"""Every alteration, removal and insertion of a row that decides something is found, whichever table and column."""

import json
from io import StringIO

import pytest
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command
from django.db import connection, models, transaction

from fleet.acting.covered import APPS, LEFT_OUT_COLUMNS, columns_of, covered_models, left_out
from fleet.acting.querysets import JournaledQuerySet
from fleet.acting.scope import acting, outside_actions, settle
from fleet.actions import change_site
from fleet.journal.comparing import Comparison
from fleet.models import ChangeEntry, JournalEntry, JournalHead, JournalLink, Machine, Person, Site
from inspections.actions import close_finding
from inspections.chain.seals import seals_of
from inspections.models import Finding, Inspection
from tests.factories import NOON
from tests.inspections.chain.deciding_rows import make_deciding_rows
from tests.inspections.chain.test_against import after, altered, remove, troubles, write
from tests.services.rows_of_module import rows_of_module

NAMES = sorted(model._meta.label_lower for model in covered_models())
MODELS = {model._meta.label_lower: model for model in covered_models()}
COLUMNS = [
    (model, column)
    for model in covered_models()
    for column in model._meta.concrete_fields
    if column.name not in LEFT_OUT_COLUMNS.get(model._meta.label_lower, {})
]
MANY = [(model, field) for model in covered_models() for field in model._meta.many_to_many]


@pytest.fixture(scope="module")
def rows_made(request, tmp_path_factory):
    with rows_of_module(request, lambda: make_deciding_rows(tmp_path_factory.mktemp("rows"))) as copy:
        yield copy


@pytest.fixture
def rows(db, rows_made):
    return rows_made()


def differences(model):
    return list(Comparison("default").run([model]))


def journaled(model):
    return model._base_manager.order_by("pk").last()


def of_row(found, row):
    return [one for one in found if (one.table, one.row) == (row._meta.db_table, row.pk)]


def test_every_model_is_covered_or_left_out_with_a_reason():
    from django.apps import apps

    own = {model for app in APPS for model in apps.get_app_config(app).get_models()}
    assert own <= set(covered_models()) | left_out().keys()
    assert all(reason.strip() for reason in left_out().values())
    assert all(reason for columns in LEFT_OUT_COLUMNS.values() for reason in columns.values())


@pytest.mark.parametrize("name", NAMES)
def test_every_column_of_a_covered_model_is_covered(name):
    model, but = MODELS[name], LEFT_OUT_COLUMNS.get(name, {})
    names = {field.name: field.column for field in model._meta.concrete_fields if field.name not in but}
    assert set(columns_of(model)) == {*names.values(), *(field.name for field in model._meta.many_to_many)}


@pytest.mark.parametrize("name", NAMES)
def test_bulk_writes_of_a_covered_model_are_heard_of(name):
    """Give the model `objects = JournaledQuerySet.as_manager()`, or a queryset made from it."""
    managers = MODELS[name]._meta.managers
    assert MODELS[name] is Group or all(issubclass(one._queryset_class, JournaledQuerySet) for one in managers)


def test_a_store_that_only_actions_wrote_verifies(rows):
    assert troubles() == []
    assert {model for model in covered_models() if journaled(model) is None} == set()


def test_altering_any_column_of_any_covered_table_names_table_row_field_expected_and_found(rows):
    refused = []
    for model, column in COLUMNS:
        row = journaled(model)
        found = after(
            lambda row=row, column=column: write(row, column, altered(row, column)),
            look=lambda model=model: differences(model),
        )
        if found is None:
            refused.append(str(column))
        elif column.primary_key:
            assert {"removed", "inserted"} <= {one.kind for one in found}, model
        else:
            [one] = [one for one in of_row(found, row) if one.column == column.column]
            assert one.kind == "altered" and one.expected != one.found, column
    # PostgreSQL refuses by itself what contradicts a constraint; SQLite was told not to.
    assert connection.vendor == "postgresql" or not refused
    assert len(refused) < len(COLUMNS) / 5


def test_a_removed_row_of_any_covered_table_is_named(rows):
    for model in covered_models():
        row = journaled(model)
        found = after(lambda row=row: remove(row), look=lambda model=model: differences(model))
        assert [one.kind for one in of_row(found, row)] == ["removed"], model


def slip_in(model):
    """Insert another row like the newest one by SQL; what a comparison finds of it."""
    row = journaled(model)
    plain = [one for one in model._meta.concrete_fields if not one.primary_key]
    texts = [one for one in plain if isinstance(one, models.CharField) and not one.choices]
    alone = [one for one in plain if one.unique]
    unique = {one for one in (*texts, *alone) if getattr(row, one.attname) not in (None, "")}
    together = [getattr(one, "fields", ()) for one in model._meta.constraints if getattr(one, "fields", ())]
    filled = {one.name for one in plain if getattr(row, one.attname) is not None}
    together = [names for names in together if filled.issuperset(names)]  # nothing is unique about what is empty
    # One column of each is enough: a relation, whose key is free, before a number that has a range.
    related = {one.name for one in plain if one.is_relation}
    told_apart = {next((name for name in names if name in related), names[0]) for names in together}
    unique |= {one for one in plain if one.name in told_apart}
    values = [altered(row, one, 3) if one in unique else getattr(row, one.attname) for one in plain]
    values = [json.dumps(value) if isinstance(value, list | dict) else value for value in values]
    names = ", ".join(f'"{one.column}"' for one in (model._meta.pk, *plain))

    def insert():
        marks = ", ".join(["%s"] * (len(plain) + 1))
        with connection.cursor() as cursor:
            cursor.execute(f"INSERT INTO {model._meta.db_table} ({names}) VALUES ({marks})", [row.pk + 999, *values])

    found = after(insert, look=lambda: differences(model))
    row.pk += 999
    return of_row(found, row)


def test_a_row_slipped_into_any_covered_table_is_named(rows):
    for model in covered_models():
        assert [one.kind for one in slip_in(model)] == ["inserted"], model


@pytest.mark.parametrize(("model", "field"), MANY, ids=lambda one: getattr(one, "name", None))
def test_rights_and_retests_added_or_taken_past_the_actions_are_named(rows, model, field):
    through, table = field.remote_field.through, field.remote_field.through._meta.db_table
    owner, key = (f"{name}_id" for name in (field.m2m_field_name(), field.m2m_reverse_field_name()))
    row = journaled(model)

    def add():
        with connection.cursor() as cursor:
            cursor.execute(f"INSERT INTO {table} ({owner}, {key}) VALUES (%s, %s)", [row.pk, 4711])

    [one] = after(add, look=lambda: differences(model))
    assert (one.kind, one.row, one.column) == ("altered", row.pk, field.name) and 4711 in one.found
    if through.objects.exists():
        owners = set(through.objects.values_list(owner, flat=True))
        found = after(lambda: connection.cursor().execute(f"DELETE FROM {table}"), look=lambda: differences(model))
        assert {one.row for one in found} == owners and {one.column for one in found} == {field.name}


def test_the_report_names_site_table_row_field_expected_and_found(rows):
    machine = Machine.objects.filter(status="withdrawn").earliest("pk")
    [trouble] = after(lambda: write(machine, Machine._meta.get_field("status"), "in service"))
    assert (trouble.kind, trouble.site, trouble.field) == ("altered", machine.site.code, "duty")
    assert (trouble.expected, trouble.found) == ("withdrawn", "in service")
    assert trouble.what == f"fleet_machine {machine.pk} ({machine})"


def test_of_one_site_only_its_rows_are_reported(rows):
    machine = Machine.objects.filter(status="withdrawn").earliest("pk")

    def change():
        write(machine, Machine._meta.get_field("status"), "in service")
        assert troubles(sites=[rows.site]) == []
        assert len(troubles(sites=[machine.site])) == 1

    assert len(after(change)) == 1


def test_what_is_written_past_the_actions_through_the_models_is_found_too(rows):
    finding = Finding.objects.get(title="Sticks")

    def change():
        with outside_actions():
            Finding.objects.filter(pk=finding.pk).update(title="Squeaks")

    assert [(one.field, one.expected, one.found) for one in after(change)] == [("title", "Sticks", "Squeaks")]


def test_an_alteration_shows_although_an_action_wrote_the_row_since(rows):
    """The action journals the row as it is afterwards, and says what it found otherwise."""
    finding = Finding.objects.get(title="Squeaks")

    def change():
        write(finding, Finding._meta.get_field("title"), "Nothing")
        close_finding(finding, note="Mended", by=rows.scene.other, at=NOON)

    [trouble] = after(change)
    assert (trouble.field, trouble.found) == ("title", "Nothing") and "before" in trouble.what


def test_a_row_slipped_in_shows_although_an_action_wrote_it_since(rows):
    def change():
        with outside_actions():
            site = Site.objects.create(code="ghost", name="Ghost")
        change_site(site, name="Ghostly", by=rows.scene.other, at=NOON)

    assert [(one.kind, one.site) for one in after(change)] == [("inserted", "ghost")]


def test_a_value_that_its_column_cannot_hold_is_named(rows):
    if connection.vendor != "sqlite":
        return  # PostgreSQL refuses it
    finding = Finding.objects.get(title="Sticks")
    write_it = lambda: write(finding, Finding._meta.get_field("opened_at"), "2026-99-99 00:00:00")  # noqa: E731
    assert ("opened_at", "2026-99-99 00:00:00") in [(one.field, one.found) for one in after(write_it)]


@pytest.mark.parametrize("model", [JournalLink, JournalEntry, JournalHead])
def test_altering_any_column_of_the_journal_itself_is_found(rows, model):
    row = model._base_manager.order_by("pk").last()
    for column in (one for one in model._meta.concrete_fields if not one.primary_key):
        found = after(lambda column=column: write(row, column, altered(row, column)))
        assert found is None or found, column.name


@pytest.mark.parametrize("model", [JournalLink, JournalEntry, JournalHead])
def test_removing_any_row_of_the_journal_is_found(rows, model):
    for row in (model._base_manager.first(), model._base_manager.last()):
        assert after(lambda row=row: remove(row))


def test_an_entry_slipped_into_the_journal_is_found(rows):
    entry = JournalEntry.objects.last()
    for batch, position in ((entry.batch, 4000), (4711, 1)):
        entry.pk, entry.batch, entry.position = None, batch, position
        assert any(one.kind == "inserted" for one in after(lambda: JournalEntry.objects.bulk_create([entry])))


def test_the_newest_action_cut_off_with_its_link_shows_by_the_seal(rows):
    seals = seals_of()
    head, last = JournalHead.objects.get(), JournalLink.objects.last()
    before = JournalLink.objects.get(sequence=last.sequence - 1)

    def cut():
        settle()
        JournalEntry.objects.filter(batch=last.batch).delete()
        last.delete()
        JournalHead.objects.filter(pk=head.pk).update(
            sequence=before.sequence, digest=before.digest, recorded_at=before.recorded_at
        )

    assert any(one.kind == "removed" and "seal" in one.what for one in after(cut, seals=seals))


def test_the_command_ends_with_1_and_names_the_row(rows):
    person = Person.objects.order_by("pk").first()

    def change():
        write(person, Person._meta.get_field("is_superuser"), True)
        out = StringIO()
        with pytest.raises(CommandError) as refused:
            call_command("verify_records", stdout=out)
        assert refused.value.returncode == 1
        assert f"altered: site -: fleet_person {person.pk}" in out.getvalue()
        assert "is_superuser: expected False, found True" in out.getvalue()

    assert len(after(change)) == 1


def test_what_an_action_wrote_and_took_back_leaves_no_link(rows):
    links = JournalLink.objects.count()
    with pytest.raises(ZeroDivisionError), transaction.atomic(), outside_actions(), acting("test"):
        Site.objects.create(code="gone", name="Gone")
        raise ZeroDivisionError
    assert troubles() == [] and JournalLink.objects.count() == links


def test_an_action_that_changes_nothing_leaves_no_link(rows):
    links = JournalLink.objects.count()
    with outside_actions(), acting("test"):
        Site.objects.filter(pk=rows.site.pk).update(name=rows.site.name)
        rows.site.save()
    assert JournalLink.objects.count() == links


def test_a_removal_by_an_action_verifies(rows):
    planned = Inspection.objects.filter(stage="planned", retests=None, steps=None).first()
    with outside_actions(), acting("test"):
        planned.delete()
        ChangeEntry.objects.filter(record="inspection", record_pk=planned.pk).delete()
    assert troubles() == []


@pytest.mark.real_journal
def test_an_account_that_django_makes_is_journaled(db, monkeypatch):
    monkeypatch.setenv("DJANGO_SUPERUSER_PASSWORD", "tapered-tube-7")
    call_command("createsuperuser", username="root", email="root@example.org", interactive=False, stdout=StringIO())
    assert Person.objects.get(username="root").is_superuser and troubles() == []
