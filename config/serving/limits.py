"""How large the body of a request may be, decided from its header before any of it is read."""

import re
from contextlib import contextmanager
from functools import cache
from importlib import import_module

from django.conf import settings
from django.db import Error, close_old_connections
from django.http import parse_cookie
from django.urls import reverse

from config.serving.body_sizes import FILE_BYTES, FRAME_BYTES, ORDINARY_BYTES
from fleet.photographs import LARGEST_BYTES
from inspections.label_page.admission import REFUSED as NO_PHOTOGRAPH
from inspections.label_page.admission import code_in, may_send_photograph

FILE_PAGES = ("fleet:import_register", "inspections:check_pdf")
PHOTOGRAPH_PAGES = ("inspections:photograph_add",)
ATTACHMENT_PAGES = {"inspections:files": ["of", 0], "inspections:decommissioning_item": [0, "of"]}


@cache
def file_paths() -> frozenset[str]:
    """Return the addresses that accept a large file."""
    return frozenset(reverse(name) for name in FILE_PAGES)


@cache
def photograph_paths() -> re.Pattern:
    """Return the pattern of the addresses of the bench that accept a photograph."""
    return re.compile("|".join(reverse(name, args=[0]).replace("/0/", "/[0-9]+/") for name in PHOTOGRAPH_PAGES))


@cache
def attachment_paths() -> re.Pattern:
    """Return the pattern of the addresses that accept a file to attach."""
    parts = (reverse(name, args=args) for name, args in ATTACHMENT_PAGES.items())
    return re.compile("|".join(one.replace("/0/", "/[0-9]+/").replace("/of/", "/[a-z0-9-]+/") for one in parts))


def largest_file(path: str) -> int:
    """Return how many bytes a file may have at this address; 0 where none but small ones are accepted."""
    if path in file_paths():
        return FILE_BYTES
    if attachment_paths().fullmatch(path):
        return settings.ATTACHMENT_BYTES
    return LARGEST_BYTES if photograph_paths().fullmatch(path) or code_in(path) else 0


def limit_of(path: str) -> int:
    """Return how many bytes a body may have at this address."""
    most = largest_file(path)
    return most + FRAME_BYTES if most else ORDINARY_BYTES


def too_long(path: str, length: int | None = None) -> str:
    """Say why a body is too large for this address; `length` is None where the request does not state it."""
    most = f"{largest_file(path) or ORDINARY_BYTES:,} bytes"
    if length is None:
        return f"The request is longer than the {most} that this address accepts. None of it was saved."
    return f"The request has {length:,} bytes; this address accepts at most {most}. None of it was read."


def not_admitted(path: str) -> str:
    """Say why a large body is not accepted from this sender."""
    if code_in(path):
        return NO_PHOTOGRAPH
    return (
        f"Files of more than {ORDINARY_BYTES:,} bytes are accepted only from people who are signed in. Sign in, then "
        "send the file again. None of it was read."
    )


def may_send_large(path: str, cookies: str, address: str) -> bool:
    """Whether the sender may send a large body to this address. Ask once for each body: photographs are counted."""
    if may_send_files(cookies):
        return True
    try:
        return bool(code_in(path)) and may_send_photograph(code_in(path), address)
    except Error:
        return False


def may_send_files(cookies: str) -> bool:
    """Whether the Cookie header belongs to somebody who is signed in; False if the database does not answer."""
    key = parse_cookie(cookies).get(settings.SESSION_COOKIE_NAME)
    if not key:
        return False
    session = import_module(settings.SESSION_ENGINE).SessionStore(key)
    try:
        return "_auth_user_id" in session and not session.get("second_factor")
    except Error:
        return False


@contextmanager
def own_connection():
    """Provide a database connection outside of a request; a broken one is not reused."""
    close_old_connections()
    try:
        yield
    finally:
        close_old_connections()
