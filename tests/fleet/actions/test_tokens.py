"""The tokens of programs: issuing, storing, revoking, and the command."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command

from fleet.actions import add_token, confirm_token, revoke_token
from fleet.changes import changes_of
from fleet.errors import TokenRefused
from fleet.models import ApiToken
from tests.factories import NOON, TODAY, make_person, make_token


@pytest.fixture
def technician(db):
    return make_person("technician", username="ana")


def asked_for(owner, group="technician", **fields):
    values = {"name": "Stores system", "expires_on": TODAY, "by": owner, "at": NOON, "today": TODAY}
    return add_token(owner=owner, group=Group.objects.get(name=group), **{**values, **fields})


def confirmed(owner, **fields):
    token = asked_for(owner, **fields)
    return token, confirm_token(token, by=owner, at=NOON, today=TODAY)


def test_a_token_that_is_asked_for_has_no_secret(technician):
    token = asked_for(technician)
    assert (token.digest, token.start, token.is_confirmed) == (None, "", False)


def test_the_secret_is_not_kept(technician):
    token, secret = confirmed(technician)
    kept = " ".join(str(value) for value in ApiToken.objects.values_list().get())
    assert secret not in kept and secret.startswith(token.start) and len(token.start) < 13
    assert ApiToken.objects.with_secret(secret).get() == token
    assert not ApiToken.objects.with_secret(secret[:-1]).exists()


def test_two_secrets_differ_and_are_long(technician):
    _, one = confirmed(technician)
    _, two = confirmed(technician, name="Other")
    assert one != two and len(one) > 40  # 32 random bytes: RFC 4086 asks for far less


def test_a_token_for_a_group_that_the_owner_is_not_in_is_refused(technician):
    with pytest.raises(TokenRefused, match="not in the group planner"):
        asked_for(technician, "planner")


@pytest.mark.parametrize("days", [-1, 800])
def test_a_last_day_that_is_past_or_too_far_is_refused(technician, days):
    with pytest.raises(TokenRefused, match="cannot be the last day"):
        asked_for(technician, expires_on=TODAY + timedelta(days=days))


def test_a_name_is_given_once(technician):
    asked_for(technician)
    with pytest.raises(TokenRefused, match="already exists"):
        asked_for(technician)


def test_a_token_is_revoked_once(technician):
    token = asked_for(technician)
    revoke_token(token, by=technician, at=NOON)
    assert token.is_revoked and token.revoked_by == technician
    with pytest.raises(TokenRefused, match="already revoked"):
        revoke_token(token, by=technician, at=NOON)


def test_only_the_owner_confirms(technician):
    token = asked_for(technician)
    with pytest.raises(TokenRefused, match="only that person can confirm it"):
        confirm_token(token, by=make_person("technician", "planner-in-chief"), at=NOON, today=TODAY)
    token.refresh_from_db()
    assert token.digest is None


@pytest.mark.parametrize("twice", ["confirmed", "revoked"])
def test_a_token_is_confirmed_once_and_not_after_it_was_revoked(technician, twice):
    token = asked_for(technician)
    if twice == "revoked":
        revoke_token(token, by=technician, at=NOON)
    else:
        confirm_token(token, by=technician, at=NOON, today=TODAY)
    with pytest.raises(TokenRefused, match="already confirmed or revoked"):
        confirm_token(token, by=technician, at=NOON, today=TODAY)


def test_a_token_past_its_last_day_or_of_a_group_that_was_left_is_not_confirmed(technician):
    token = asked_for(technician)
    with pytest.raises(TokenRefused, match="last day"):
        confirm_token(token, by=technician, at=NOON, today=TODAY + timedelta(days=1))
    technician.groups.clear()
    with pytest.raises(TokenRefused, match="not in the group"):
        confirm_token(token, by=technician, at=NOON, today=TODAY)


def test_a_token_from_before_owners_were_asked_keeps_its_secret_when_confirmed(technician):
    token, secret = make_token(technician)
    ApiToken.objects.update(confirmed_at=None, predates_confirmation=True)
    token.refresh_from_db()
    assert token.awaits_owner and confirm_token(token, by=technician, at=NOON, today=TODAY) is None
    assert ApiToken.objects.with_secret(secret).get().is_confirmed


def test_asking_confirming_and_revoking_are_told_with_the_owner(technician):
    chief = make_person("planner-in-chief")
    token = asked_for(technician, by=chief)
    confirm_token(token, by=technician, at=NOON, today=TODAY)
    revoke_token(token, by=chief, at=NOON)
    entries = [(e.by, sorted(e.after)) for e in changes_of("person", technician.pk)]
    assert entries == [
        (chief, ["Revoked at", "Revoked by"]),
        (technician, ["Confirmed at"]),
        (chief, ["Expires on", "Group", "Name"]),
    ]


def test_the_command_asks_for_lists_and_revokes(technician, capsys):
    call_command("token", "add", "Stores", "--owner", "ana", "--group", "technician")
    told = capsys.readouterr().out
    token = ApiToken.objects.get()
    assert "/tokens/" in told and "(ana) signs in" in told and "bobbin_" not in told
    assert not token.is_confirmed and token.expires_on > date.today() + timedelta(days=300)
    call_command("token", "list")
    assert "awaiting its owner" in capsys.readouterr().out
    call_command("token", "revoke", "Stores")
    call_command("token", "list")
    listed = capsys.readouterr().out
    assert "Stores" in listed and "revoked" in listed


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["add", "X", "--owner", "nobody", "--group", "technician"], "no person called “nobody”"),
        (["add", "X", "--owner", "ana", "--group", "nurses"], "no group called “nurses”"),
        (["add", "X", "--owner", "ana", "--group", "planner"], "not in the group planner"),
        (["revoke", "X"], "called “X”"),
    ],
)
def test_the_command_says_what_it_cannot_do(technician, arguments, told):
    with pytest.raises(CommandError, match=told):
        call_command("token", *arguments)
