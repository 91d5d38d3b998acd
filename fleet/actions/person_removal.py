"""Remove what is stored about a person and no record needs."""

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import ProtectedError

from fleet.actions.people import refuse_closed, refuse_foreign, somebody_left
from fleet.changes import record_change, recording
from fleet.errors import PersonRefused
from fleet.models import ApiToken, Job, Person
from fleet.people.personal_data import Treatment, attempts_of, references, removal_plan, sessions_of

# Fields that a closed account loses; username and name stay, because records name them.
ERASED = {"email": "", "last_login": None, "is_active": False, "is_staff": False, "is_superuser": False,
          "wants_digest": False}  # fmt: skip


@transaction.atomic
def remove_person(person, *, by, at):
    """Delete an account that no record names; else erase what no record needs and close the account for ever.

    Return the RemovalPlan that was carried out. Raise PersonRefused for one's own account, for one that `by` may
    not manage, and for the last one that may manage every account.
    """
    person = Person.objects.select_for_update().get(pk=person.pk)
    refuse_foreign(person, by)
    refuse_closed(person)
    if by is not None and by.pk == person.pk:
        raise PersonRefused("This is your own account. Another person must remove it.")
    plan = removal_plan(person)
    with somebody_left(by, always=True):
        _remove_rows(person, by, at)
        if not (plan.is_deleted and _deleted(person, by, at)):
            _close(person, by, at)
    return plan


def _remove_rows(person, by, at):
    for rows in attempts_of(person):
        rows.delete()
    Session.objects.filter(pk__in=sessions_of(person)).delete()
    _remove_job_files(person)
    for one in references():
        if one.treatment is Treatment.RELEASED:
            one.rows(person).update(**{one.field: None})
        elif one.treatment is Treatment.REMOVED and one.model not in (Person.groups.through, Person.sites.through):
            _delete(one.rows(person), by, at)


def _delete(rows, by, at):
    """Delete rows one by one; a token that readings name stays, revoked."""
    for row in rows:
        try:
            with transaction.atomic():
                row.delete()
        except ProtectedError:
            if not isinstance(row, ApiToken):
                raise
            ApiToken.objects.filter(pk=row.pk, revoked_at=None).update(revoked_at=at, revoked_by=by)


def _remove_job_files(person):
    """Remove the files after the commit, so that a rollback leaves them."""
    for job in Job.objects.filter(by=person).exclude(file=""):
        transaction.on_commit(lambda file=job.file: file.storage.delete(file.name))


def _deleted(person, by, at):
    """Delete the account; return False if a relation that is not declared still refers to it."""
    try:
        with transaction.atomic():
            record_change(person, by=by, at=at, before={"Account": person.username}, after={"Account": "deleted"})
            person.delete()
    except ProtectedError:
        return False
    return True


def _close(person, by, at):
    with recording(person, by=by, at=at):
        person.set_unusable_password()
        for name, value in ERASED.items():
            setattr(person, name, value)
        person.closed_at = at
        person.save(update_fields=["password", "closed_at", *ERASED])
        person.groups.clear()
        person.sites.clear()
    after = {"Account": "closed permanently, personal data removed"}
    record_change(person, by=by, at=at, before={"Account": "kept"}, after=after)
