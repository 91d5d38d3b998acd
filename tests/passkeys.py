"""A device that holds passkeys, in software: it answers as a browser does, and can be told to answer wrongly.

Source of the structures: W3C, Web Authentication Level 2, sections 6.1 (authenticator data) and 5.8.1 (client data).
"""

import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from hashlib import sha256
from itertools import count
from secrets import token_bytes

import cbor2
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256

from fleet.actions import add_passkey
from tests.factories import NOON

ORIGIN = "http://localhost"
PRESENT, VERIFIED, WITH_KEY = 0x01, 0x04, 0x40
names = count(1)


class Device:
    """One credential with an elliptic-curve key; `counted` is what it says of its earlier uses, always 0 for many."""

    def __init__(self, *, counts=True):
        self.key, self.credential = ec.generate_private_key(ec.SECP256R1()), token_bytes(32)
        self.counted, self.step = 0, int(counts)

    def create(self, options, *, origin=ORIGIN, flags=PRESENT | VERIFIED, **changed):
        """Answer a request to create a passkey."""
        parts = self._data(options["rp"]["id"], flags | WITH_KEY)
        parts += bytes(16) + len(self.credential).to_bytes(2, "big") + self.credential + self.public_key
        attestation = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": parts})
        client = self._client("webauthn.create", options, origin, changed)
        return self._answer({"attestationObject": encode(attestation), "clientDataJSON": encode(client)})

    def sign(self, options, *, origin=ORIGIN, flags=PRESENT | VERIFIED, rp=None, kind="webauthn.get", **changed):
        """Answer a request to sign a challenge. `changed` replaces fields of the client data."""
        data = self._data(rp or options["rpId"], flags)
        client = self._client(kind, options, origin, changed)
        signature = self.key.sign(data + sha256(client).digest(), ec.ECDSA(SHA256()))
        parts = {"authenticatorData": data, "clientDataJSON": client, "signature": signature}
        return self._answer({name: encode(part) for name, part in parts.items()})

    @property
    def public_key(self):
        """The key as COSE: type EC2, algorithm ES256, curve P-256 (RFC 9053)."""
        numbers = self.key.public_key().public_numbers()
        x, y = (number.to_bytes(32, "big") for number in (numbers.x, numbers.y))
        return cbor2.dumps({1: 2, 3: -7, -1: 1, -2: x, -3: y})

    def _data(self, rp, flags):
        self.counted += self.step
        return sha256(rp.encode()).digest() + bytes([flags]) + self.counted.to_bytes(4, "big")

    def _client(self, kind, options, origin, changed):
        told = {"type": kind, "challenge": options["challenge"], "origin": origin, "crossOrigin": False}
        return json.dumps(told | changed).encode()

    def _answer(self, response):
        name = encode(self.credential)
        return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": response})


def encode(octets):
    return urlsafe_b64encode(octets).rstrip(b"=").decode()


def decode(text):
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


def give_passkey(person, device=None, *, at=NOON):
    """Register a passkey of a device for a person, and return the device."""
    device = device or Device()
    key = {"credential": encode(device.credential), "public_key": encode(device.public_key)}
    add_passkey(person, name=f"Tablet {next(names)}", sign_count=device.counted, at=at, **key)
    return device


def options_for(client, path, data, kind="get"):
    """What the script of a page fetches before it sends a form with these fields to `path`."""
    answer = client.post(
        "/passkeys/options/", {**data, "passkey_for": path, "passkey_kind": kind}, HTTP_HOST="localhost"
    )
    assert answer.status_code == 200, answer.content
    return answer.json()


def send_with_passkey(client, path, data, device, **wrong):
    """Send a form with the answer of a device in place of the password."""
    answer = device.sign(options_for(client, path, data), **wrong)
    return client.post(path, {**data, "password": "", "passkey": answer}, HTTP_HOST="localhost")
