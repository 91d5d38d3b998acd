"""The security headers of the served installation, and the source of its settings."""

import pytest

from config.security import CONTENT_POLICY
from tests.services.bobbin import manage
from tests.services.compose import compose_file

SHOW = """
from django.conf import settings
for name in ("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS",
             "SECURE_PROXY_SSL_HEADER", "CSRF_TRUSTED_ORIGINS"):
    print(name, getattr(settings, name))
"""


def settings_with(tmp_path, **variables):
    done = manage("shell", "--no-imports", "-c", SHOW, DATA_DIR=str(tmp_path), **variables)
    return dict(line.split(" ", 1) for line in done.stdout.splitlines())


def test_an_https_address_brings_secure_cookies_the_redirect_and_a_year_of_insistence(tmp_path):
    told = settings_with(
        tmp_path, BASE_URL="https://bobbin.example", TRUSTED_PROXY="yes", TRUSTED_ORIGINS="https://b.example"
    )
    assert told["SESSION_COOKIE_SECURE"] == told["CSRF_COOKIE_SECURE"] == told["SECURE_SSL_REDIRECT"] == "True"
    assert told["SECURE_HSTS_SECONDS"] == "31536000"
    assert told["SECURE_PROXY_SSL_HEADER"] == "('HTTP_X_FORWARDED_PROTO', 'https')"
    assert told["CSRF_TRUSTED_ORIGINS"] == "['https://bobbin.example', 'https://b.example']"


def test_a_plain_address_brings_none_of_them_and_no_proxy_is_trusted_unasked(tmp_path):
    told = settings_with(tmp_path, BASE_URL="http://localhost:8000")
    assert told["SESSION_COOKIE_SECURE"] == told["SECURE_SSL_REDIRECT"] == "False"
    assert (told["SECURE_HSTS_SECONDS"], told["SECURE_PROXY_SSL_HEADER"]) == ("0", "None")


@pytest.mark.parametrize("path", ["/login/", "/health/", "/no-such-page/"])
def test_every_answer_forbids_inline_content_frames_and_unused_features(client, db, path):
    response = client.get(path)
    policy = response["Content-Security-Policy"]
    assert "script-src 'self'" in policy and "style-src 'self'" in policy and "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy and "base-uri 'none'" in policy
    assert "unsafe" not in policy and "*" not in policy
    assert "camera=()" in response["Permissions-Policy"]
    assert response["Cross-Origin-Opener-Policy"] == "same-origin"
    assert response["X-Content-Type-Options"] == "nosniff"


def test_the_policy_names_no_other_site():
    directives = CONTENT_POLICY["DIRECTIVES"]
    ours = {"require-trusted-types-for": ["'script'"], "trusted-types": ["default", "bobbin-reading", "bobbin-worker"]}
    assert {name: directives[name] for name in ours} == ours
    sources = {source for name, listed in directives.items() if name not in ours for source in listed}
    assert sources == {"'self'", "'none'"}


def test_a_refusal_by_the_browser_is_noticed(browser, live_server):
    """The watch that every browser test is under sees what the policy forbids."""
    from tests.services.browser import watched_page

    with (
        pytest.raises(AssertionError, match="Content Security Policy"),
        watched_page(browser, live_server.url) as page,
    ):
        page.goto("/login/")
        page.evaluate("document.body.setAttribute('style', 'color: red')")
        page.wait_for_timeout(200)


def test_the_check_for_deployment_finds_nothing_in_the_settings_of_the_served_installation(tmp_path):
    environment = compose_file()["services"]["web"]["environment"]
    served = {key: str(value) for key, value in environment.items() if key in ("LOG_FORMAT", "TRUSTED_PROXY")}
    variables = {
        "BASE_URL": "https://bobbin.example",
        "ALLOWED_HOSTS": "bobbin.example",
        "SECRET_KEY": "abcdefgh-12345-" * 4,
    }
    variables |= {"DATABASE_URL": "postgres://bobbin@127.0.0.1:1/bobbin", "REDIS_URL": "redis://127.0.0.1:1/0"}
    done = manage("check", "--deploy", "--fail-level", "WARNING", DATA_DIR=str(tmp_path), **variables, **served)
    assert "no issues" in done.stdout
