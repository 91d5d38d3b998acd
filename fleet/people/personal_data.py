"""What is stored about a person, which of it records need, and its export as plain data.

Each app declares each of its foreign keys to Person once: kept because a record needs it, removed with the person's
data, or released (the row stays without the person). A foreign key that is not declared counts as kept.
"""

from dataclasses import dataclass
from enum import StrEnum

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.db.models import BinaryField
from django_otp import devices_for_user
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.changes import changes_of
from fleet.models import (
    AlterationOfMachine,
    AlterationPlan,
    AlterationPrice,
    ApiToken,
    AreaPeriod,
    AwayPeriod,
    ChangeEntry,
    CircuitChange,
    ColumnMapping,
    CostRate,
    Digest,
    EarlierInspection,
    FeatureState,
    Job,
    MachinePurchase,
    Passkey,
    PasskeyChallenge,
    Person,
    RegisterUpload,
    ReplacementPrice,
    ServiceContract,
    SiteCurrency,
    SoftwareVersion,
    SparePartCost,
    StartPutAway,
    StatusChange,
    UserInstruction,
    ValueMeaning,
)

SECRETS = {"password", "digest", "start", "key", "token", "last_t", "session_data", "post_data", "get_data"}
ATTEMPTS = (AccessAttempt, AccessFailureLog, AccessLog)  # these rows name a person by the username that was typed
HISTORY = "The history of the register shows who changed what."
OWN_HISTORY = "It shows who granted or removed which rights; email addresses are not in it."
PRICED = "An amount on which a decision rests says who entered it."
UNDECLARED = "A record may need it."


class Treatment(StrEnum):
    KEPT = "kept"
    REMOVED = "removed"
    RELEASED = "released"


@dataclass(frozen=True, slots=True)
class Reference:
    """One foreign key to Person: the model and field, what its rows are called, and what happens to them."""

    model: type
    field: str
    treatment: Treatment
    words: str
    reason: str = ""

    def rows(self, person):
        return self.model._base_manager.filter(**{self.field: person})


@dataclass(frozen=True, slots=True)
class Line:
    """Rows of one kind that are removed or stay; `reason` says why they stay."""

    words: str
    count: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RemovalPlan:
    """The effect of a removal: `goes` and `stays` are Lines. An account that no record names is deleted."""

    goes: list
    stays: list
    is_deleted: bool


_declared = {}


def declare(model, field, treatment, words, reason=""):
    """Declare what happens to the rows of `model` whose `field` is a person who is removed."""
    _declared[model, field] = Reference(model, field, treatment, words, reason)


def relations():
    """Return every (model, field) that refers to a person, from Django's list of relations."""
    fields = Person._meta.get_fields(include_hidden=True)
    return [(one.related_model, one.field.name) for one in fields if one.auto_created and not one.concrete]


def undeclared():
    """The relations that are not declared."""
    return [relation for relation in relations() if relation not in _declared]


def references():
    """Return a Reference for every relation."""
    return [
        _declared.get(relation)
        or Reference(*relation, Treatment.KEPT, relation[0]._meta.verbose_name_plural, UNDECLARED)
        for relation in relations()
    ]


def _declare_money():
    for model, words in (
        (MachinePurchase, "Purchases of machines"),
        (ReplacementPrice, "Prices of replacements"),
        (ServiceContract, "Service contracts"),
        (CostRate, "Hourly rates"),
        (SparePartCost, "Costs of spare parts"),
        (AlterationPrice, "Prices of alterations"),
    ):
        declare(model, "by", Treatment.KEPT, f"{words} entered", PRICED)
        declare(model, "withdrawn_by", Treatment.KEPT, f"{words} withdrawn", PRICED)
    declare(SiteCurrency, "by", Treatment.KEPT, "Currencies of sites chosen", PRICED)
    _declare_device_book()


def _declare_device_book():
    for model, words in ((SoftwareVersion, "Software of machines"), (UserInstruction, "Instructions of users")):
        declare(model, "by", Treatment.KEPT, f"{words} recorded", HISTORY)
        declare(model, "withdrawn_by", Treatment.KEPT, f"{words} withdrawn", HISTORY)


def register():
    kept, removed, released = Treatment.KEPT, Treatment.REMOVED, Treatment.RELEASED
    declare(Person.groups.through, "person", removed, "Groups")
    declare(Person.sites.through, "person", removed, "Sites")
    declare(Person.user_permissions.through, "person", removed, "Permissions")
    declare(ChangeEntry, "by", kept, "Changes made", HISTORY)
    declare(StatusChange, "by", kept, "Changes of the status of machines", HISTORY)
    declare(AreaPeriod, "by", kept, "Areas of machines recorded", HISTORY)
    declare(AwayPeriod, "by", kept, "Loans and outside repairs recorded", HISTORY)
    declare(AwayPeriod, "returned_by", kept, "Returns of machines recorded", HISTORY)
    declare(CircuitChange, "by", kept, "Changes of gas circuits", HISTORY)
    declare(CircuitChange, "undone_by", kept, "Changes of gas circuits undone", HISTORY)
    declare(EarlierInspection, "by", kept, "Earlier inspections imported", HISTORY)
    declare(FeatureState, "by", kept, "Safety features recorded", HISTORY)
    declare(ApiToken, "owner", removed, "API tokens owned")
    declare(ApiToken, "added_by", kept, "API tokens requested", "A token names the person who requested it.")
    declare(ApiToken, "revoked_by", kept, "API tokens revoked", "A token names the person who revoked it.")
    declare(Passkey, "person", removed, "Passkeys")
    declare(PasskeyChallenge, "person", removed, "Passkeys asked for in the last minutes")
    declare(Digest, "person", removed, "Emails sent")
    declare(Job, "by", removed, "Background jobs requested, with their files")
    declare(Job, "cancel_asked_by", released, "Background jobs cancelled")
    declare(RegisterUpload, "by", removed, "Register files uploaded, with their rows that wait")
    declare(ColumnMapping, "by", released, "Columns of register files assigned")
    declare(StartPutAway, "person", removed, "Guided start put away")
    declare(ValueMeaning, "by", released, "Values of register files given a meaning")
    _declare_money()
    declare(AlterationPlan, "by", kept, "Alterations planned", HISTORY)
    declare(AlterationOfMachine, "settled_by", kept, "Alterations carried out or left out", HISTORY)
    declare(TOTPDevice, "user", removed, "Second factor")
    declare(StaticDevice, "user", removed, "Recovery codes")


def attempts_of(person):
    """Return querysets of the attempts to sign in with the username."""
    return [model.objects.filter(username=person.username) for model in ATTEMPTS]


def sessions_of(person):
    """Return the keys of a person's sessions; every session must be decoded for that."""
    wanted = str(person.pk)
    return [one.pk for one in Session.objects.iterator() if one.get_decoded().get(SESSION_KEY) == wanted]


def removal_plan(person):
    """Return what would be removed and what would stay if the person's data were removed now."""
    counted = [(one, one.rows(person).count()) for one in references()]
    stays = [Line(one.words, n, one.reason) for one, n in counted if n and one.treatment is Treatment.KEPT]
    goes = [Line(one.words, n) for one, n in counted if n and one.treatment is not Treatment.KEPT]
    goes += [
        Line(words, n)
        for words, n in (
            ("Sign-in attempts", sum(rows.count() for rows in attempts_of(person))),
            ("Sessions", len(sessions_of(person))),
        )
        if n
    ]
    is_deleted = not stays
    if history := changes_of("person", person.pk).count():
        stays.append(Line("Changes of the account", history, OWN_HISTORY))
    return RemovalPlan(goes, stays, is_deleted)


def personal_data(person):
    """Return everything that is stored about a person as JSON data, without secrets."""
    return {
        "account": _account(person),
        "second_factor": _second_factor(person),
        "sessions": len(sessions_of(person)),
        "attempts_to_sign_in": [row for rows in attempts_of(person) for row in _plain(rows)],
        "changes_of_the_account": list(_plain(changes_of("person", person.pk))),
        "records": {
            f"{one.model._meta.label_lower}.{one.field}": _told(one, person)
            for one in references()
            if one.model not in (TOTPDevice, StaticDevice)
        },
    }


def _account(person):
    [account] = _plain(Person.objects.filter(pk=person.pk))
    return account | {
        "password": "set" if person.has_usable_password() else "not set",
        "groups": sorted(person.groups.values_list("name", flat=True)),
        "sites": sorted(person.sites.values_list("code", flat=True)),
    }


def _second_factor(person):
    return {
        "is_set_up": any(devices_for_user(person)),
        "recovery_codes_left": StaticToken.objects.filter(device__user=person).count(),
    }


def _told(reference, person):
    return {
        "words": reference.words,
        "if_removed": reference.treatment,
        "reason": reference.reason,
        "rows": list(_plain(reference.rows(person))),
    }


def _plain(rows):
    """Return the columns of rows, without secrets and without the content of files."""
    fields = rows.model._meta.concrete_fields
    names = [one.attname for one in fields if one.name not in SECRETS and not isinstance(one, BinaryField)]
    return rows.select_related(None).order_by("pk").values(*names)
