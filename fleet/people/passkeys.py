"""Sign with a passkey instead of the password: which challenge is signed, by which key, for which act.

A challenge is bound to the person, the session and the act, which is the address and all fields of a form: among them
the token of what the page showed. It is good once and for five minutes. The device must have verified its user by
finger, face or PIN, because the passkey takes the place of the password.
"""

import json
import re
from datetime import timedelta
from ipaddress import ip_address
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import F
from django.utils import timezone
from django.utils.crypto import salted_hmac

from fleet.canonical import canonical_json, digest_of
from fleet.late import webauthn, webauthn_structs
from fleet.models import Passkey, PasskeyChallenge

GOOD_FOR = timedelta(minutes=5)
OPEN_CHALLENGES = 10  # of one person; older ones are dropped
LONGEST = 20_000  # characters of an answer; the longest real one has about 3,000
BASE64URL = re.compile(r"[A-Za-z0-9_-]{1,1400}")
ANSWER = "passkey"  # the field of a form that carries the answer of the device
NOT_THE_ACT = {ANSWER, "csrfmiddlewaretoken", "password", "passkey_for", "passkey_kind"}


class PasskeyBackend:
    """Authenticates with a passkey, so that django-axes counts a refused one as it counts a wrong password."""

    def authenticate(self, request, *, username, passkey):
        person = request.user
        return person if person.get_username() == username and _is_signed(request, passkey) else None

    def get_user(self, pk):
        return None  # nobody signs in with a passkey


def is_offered(request):
    """Return whether passkeys work at the address of this request: at their domain or below it, never at an IP."""
    host, domain = urlsplit(f"//{request.get_host()}").hostname or "", settings.PASSKEY_DOMAIN
    return not _is_ip(domain) and (host == domain or host.endswith(f".{domain}"))


def may_use(request):
    """Return whether whoever sent the request has a passkey that works here; one query for a request."""
    if "may_use_passkey" not in request.__dict__:
        request.may_use_passkey = is_offered(request) and Passkey.objects.filter(person=request.user).exists()
    return request.may_use_passkey


def act_of(path, fields):
    """Return the digest of an act: the address of the form, and what it sends except secrets.

    fields  (name, values) of each field
    """
    sent = sorted(
        (name, value.replace("\r\n", "\n").replace("\r", "\n"))
        for name, values in fields
        if name not in NOT_THE_ACT
        for value in values
    )
    return digest_of(canonical_json([path, sent]))


def request_options(request, act, *, at):
    """Return, as JSON, what a browser needs to have one of the person's passkeys sign a new challenge for `act`."""
    return webauthn.options_to_json(
        webauthn.generate_authentication_options(
            rp_id=settings.PASSKEY_DOMAIN,
            challenge=_new_challenge(request, act, at),
            timeout=int(GOOD_FOR.total_seconds() * 1000),
            allow_credentials=_descriptors(request.user),
            user_verification=webauthn_structs.UserVerificationRequirement.REQUIRED,
        )
    )


def creation_options(request, act, *, at):
    """Return, as JSON, what a browser needs to create a passkey for the person on a device that has none yet."""
    person = request.user
    return webauthn.options_to_json(
        webauthn.generate_registration_options(
            rp_id=settings.PASSKEY_DOMAIN,
            rp_name="Bobbin",
            user_id=_handle_of(person),
            user_name=person.get_username(),
            user_display_name=str(person),
            challenge=_new_challenge(request, act, at),
            timeout=int(GOOD_FOR.total_seconds() * 1000),
            exclude_credentials=_descriptors(person),
            authenticator_selection=webauthn_structs.AuthenticatorSelectionCriteria(
                resident_key=webauthn_structs.ResidentKeyRequirement.PREFERRED,
                user_verification=webauthn_structs.UserVerificationRequirement.REQUIRED,
            ),
        )
    )


def created_passkey(request, answer, *, at):
    """Return the fields of the passkey that a browser created for the sent form, None if its answer is not accepted."""
    challenge = _take_challenge(request, answer, at)
    if challenge is None:
        return None
    made = _verified(webauthn.verify_registration_response, request, answer, challenge)
    if made is None:
        return None
    return {
        "credential": webauthn.helpers.bytes_to_base64url(made.credential_id),
        "public_key": webauthn.helpers.bytes_to_base64url(made.credential_public_key),
        "sign_count": made.sign_count,
    }


def _is_signed(request, answer):
    """Return whether a passkey of the person signed the challenge for the form that was sent. The challenge is used."""
    at = timezone.now()
    challenge = _take_challenge(request, answer, at)
    named = _plain(_read(answer).get("id"))
    passkey = Passkey.objects.filter(person=request.user, credential=named).first()
    if challenge is None or passkey is None or not _is_for(request.user, answer):
        return False
    key = {
        "credential_public_key": webauthn.base64url_to_bytes(passkey.public_key),
        "credential_current_sign_count": passkey.sign_count,
    }
    checked = _verified(webauthn.verify_authentication_response, request, answer, challenge, **key)
    if checked is None:
        return False
    same = Passkey.objects.filter(pk=passkey.pk, sign_count=passkey.sign_count)
    return bool(same.update(sign_count=checked.new_sign_count, used_at=at))


def _verified(verify, request, answer, challenge, **key):
    """Return what the library says of an answer, None if it refuses it for any reason: the bytes are a stranger's."""
    try:
        return verify(
            credential=answer,
            expected_challenge=webauthn.base64url_to_bytes(challenge),
            expected_rp_id=settings.PASSKEY_DOMAIN,
            expected_origin=_origins(request),
            require_user_verification=True,
            **key,
        )
    except Exception:
        return None


def _origins(request):
    """The addresses at which a passkey may have been asked for: those of the settings, and that of this request."""
    return [*settings.CSRF_TRUSTED_ORIGINS, f"{request.scheme}://{request.get_host()}"]


def _new_challenge(request, act, at):
    challenge = webauthn.helpers.generate_challenge()
    own = PasskeyChallenge.objects.filter(person=request.user)
    newest = own.filter(made_at__gt=at - GOOD_FOR).order_by("-made_at", "-pk")[: OPEN_CHALLENGES - 1]
    own.exclude(pk__in=list(newest.values_list("pk", flat=True))).delete()
    PasskeyChallenge.objects.create(
        person=request.user,
        session=_session_of(request),
        act=act,
        challenge=webauthn.helpers.bytes_to_base64url(challenge),
        made_at=at,
    )
    return challenge


def _take_challenge(request, answer, at):
    """Use up the challenge that an answer names, and return it if it was for this person, session, act and time.

    Deleting is what uses it up: of two requests with one answer only one deletes a row.
    """
    named = PasskeyChallenge.objects.filter(person=request.user, challenge=_challenge_in(answer))
    found = named.first()
    if found is None or not named.delete()[0]:
        return None
    is_right = (
        found.session == _session_of(request)
        and found.act == act_of(request.path, request.POST.lists())
        and found.made_at <= at < found.made_at + GOOD_FOR
    )
    return found.challenge if is_right else None


def _challenge_in(answer):
    """The challenge that an answer says it signed; empty if it cannot be read or comes from within a foreign page."""
    try:
        client_data = json.loads(webauthn.base64url_to_bytes(_read(answer)["response"]["clientDataJSON"]))
        return "" if client_data.get("crossOrigin") else _plain(client_data["challenge"])
    except (ValueError, KeyError, TypeError, AttributeError):
        return ""


def _plain(text):
    """A text if it is base64url, which every database stores; else empty."""
    return text if isinstance(text, str) and BASE64URL.fullmatch(text) else ""


def _is_for(person, answer):
    """Whether the device says nothing else about whose key it is; many say nothing."""
    handle = _read(answer).get("response", {}).get("userHandle")
    return not handle or handle == webauthn.helpers.bytes_to_base64url(_handle_of(person))


def _read(answer):
    """An answer as data, empty if it is too long or not JSON."""
    try:
        data = json.loads(answer) if len(answer) <= LONGEST else {}
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) and isinstance(data.get("response"), dict) else {}


def _handle_of(person):
    """What a device stores to tell accounts apart, which must not say who the person is."""
    return salted_hmac("bobbin.passkey", str(person.pk), algorithm="sha256").digest()


def _session_of(request):
    return salted_hmac("bobbin.passkey.session", request.session.session_key or "", algorithm="sha256").hexdigest()


def _descriptors(person):
    known = Passkey.objects.filter(person=person).order_by(F("used_at").desc(nulls_last=True), "pk")
    return [
        webauthn_structs.PublicKeyCredentialDescriptor(id=webauthn.base64url_to_bytes(credential))
        for credential in known.values_list("credential", flat=True)
    ]


def _is_ip(host):
    try:
        return bool(ip_address(host))
    except ValueError:
        return False
