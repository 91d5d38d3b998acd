"""The keys of programs: handing out, keeping, revoking, and the command."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command

from fleet.actions import add_token, revoke_token
from fleet.errors import TokenRefused
from fleet.models import ApiToken
from tests.factories import NOON, TODAY, make_person


@pytest.fixture
def technician(db):
    return make_person("technician", username="ana")


def handed_out(owner, group="technician", **fields):
    values = {"name": "Stores system", "expires_on": TODAY, "by": owner, "at": NOON, "today": TODAY}
    return add_token(owner=owner, group=Group.objects.get(name=group), **{**values, **fields})


def test_the_secret_is_not_kept(technician):
    token, secret = handed_out(technician)
    kept = " ".join(str(value) for value in ApiToken.objects.values_list().get())
    assert secret not in kept and secret.startswith(token.start) and len(token.start) < 13
    assert ApiToken.objects.with_secret(secret).get() == token
    assert not ApiToken.objects.with_secret(secret[:-1]).exists()


def test_two_secrets_differ_and_are_long(technician):
    _, one = handed_out(technician)
    _, two = handed_out(technician, name="Other")
    assert one != two and len(one) > 40  # 32 random bytes: RFC 4086 asks for far less


def test_a_token_for_a_group_that_the_owner_is_not_in_is_refused(technician):
    with pytest.raises(TokenRefused, match="not in the group planner"):
        handed_out(technician, "planner")


@pytest.mark.parametrize("days", [-1, 800])
def test_a_last_day_that_is_past_or_too_far_is_refused(technician, days):
    with pytest.raises(TokenRefused, match="cannot be the last day"):
        handed_out(technician, expires_on=TODAY + timedelta(days=days))


def test_a_name_is_given_once(technician):
    handed_out(technician)
    with pytest.raises(TokenRefused, match="exists already"):
        handed_out(technician)


def test_a_token_is_revoked_once(technician):
    token, _ = handed_out(technician)
    revoke_token(token, by=technician, at=NOON)
    assert token.is_revoked and token.revoked_by == technician
    with pytest.raises(TokenRefused, match="revoked already"):
        revoke_token(token, by=technician, at=NOON)


def test_the_command_hands_out_lists_and_revokes(technician, capsys):
    call_command("token", "add", "Stores", "--owner", "ana", "--group", "technician")
    secret = capsys.readouterr().out.strip()
    token = ApiToken.objects.with_secret(secret).get()
    assert token.expires_on > date.today() + timedelta(days=300)
    call_command("token", "revoke", "Stores")
    call_command("token", "list")
    listed = capsys.readouterr().out
    assert "Stores" in listed and "revoked" in listed and secret not in listed


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
