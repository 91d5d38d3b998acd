"""A photograph without a login: the size is refused, or the sender let in, before any of the body is read."""

import io

import pytest
from django.test import RequestFactory
from django.test.client import ClientHandler

from config.serving.body_sizes import FRAME_BYTES, ORDINARY_BYTES
from config.serving.limits import may_send_large
from config.serving.middleware import ADMITTED
from fleet.models import Site
from fleet.photographs import LARGEST_BYTES
from inspections.actions import replace_label
from inspections.label_page import rate_limits
from tests.factories import NOON
from tests.inspections.label_page.sending import check, fault, page

LARGE = ORDINARY_BYTES + 1


class Unread(io.RawIOBase):
    def read(self, *_):
        raise AssertionError("the body was read")

    readline = readinto = __iter__ = read


def ask(path, length, **environ):
    sent = RequestFactory().post(path, content_type="multipart/form-data; boundary=x").environ
    response = ClientHandler()(sent | {"wsgi.input": Unread(), "CONTENT_LENGTH": str(length), **environ})
    return response.status_code, response.content.decode()


@pytest.mark.parametrize("length", [LARGEST_BYTES + FRAME_BYTES + 1, 40 * 1000 * 1000, 10**12])
def test_a_photograph_of_40_mb_is_refused_with_its_size_and_not_read(label, length):
    status, words = ask(fault(label), length)
    assert status == 413 and f"{length:,} bytes" in words and f"{LARGEST_BYTES:,} bytes" in words
    assert "Biomedical department" in words and "/static/bobbin/page.js" not in words


def refused(label, why):
    if why == "replaced":
        replace_label(label.machine, reason="Lost", by=None, at=NOON)
    elif why == "switched off":
        Site.objects.update(has_label_page=False)
    elif why == "many reports":
        for _ in range(rate_limits.REPORTS.most):
            rate_limits.count(rate_limits.REPORTS, "127.0.0.1")
    elif why == "many photographs":
        for _ in range(rate_limits.PICTURES.most):
            assert may_send_large(fault(label), "", "127.0.0.1")


@pytest.mark.parametrize("why", ["replaced", "switched off", "many reports", "many photographs"])
def test_a_large_body_is_refused_unread_beyond_every_limit(label, why):
    assert may_send_large(fault(label), "", "10.0.0.1")
    refused(label, why)
    status, words = ask(fault(label), LARGE)
    assert status == 413 and "photograph is not accepted here now" in words
    assert not may_send_large(fault(label), "", "127.0.0.1")


def test_a_code_that_does_not_exist_lets_no_large_body_in_and_counts_as_a_guess(label):
    address = fault(label).replace(label.code, "0" * 26)
    for _ in range(rate_limits.UNKNOWN.most):
        assert ask(address, LARGE)[0] == 413
    assert not may_send_large(fault(label), "", "127.0.0.1")
    assert may_send_large(fault(label), "", "10.0.0.1")


@pytest.mark.parametrize("name", ["page", "check"])
def test_no_other_address_takes_a_large_body_from_somebody_unknown(label, name):
    path = {"page": page, "check": check}[name](label)
    assert ask(path, LARGE)[0] == 413 and not may_send_large(path, "", "127.0.0.1")


def test_what_the_server_has_let_in_is_not_counted_twice(label):
    for _ in range(rate_limits.PICTURES.most + 5):
        assert ask(fault(label), LARGE, **{ADMITTED: True})[0] != 413
    assert not rate_limits.exhausted(rate_limits.PICTURES, "127.0.0.1")
