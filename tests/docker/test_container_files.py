"""The container files: valid by the published schema and a linter, and as careful as the house asks."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.bobbin import ROOT
from tests.services.compose import EXAMPLE, LASTING, ONCE, compose_file

DOCKERFILE = ROOT / "docker" / "Dockerfile"
BIN = Path(sys.executable).parent
OURS = ONCE + LASTING


@pytest.fixture(scope="module")
def compose():
    return compose_file()


def lint(*command):
    return subprocess.run([BIN / command[0], *command[1:]], cwd=ROOT, capture_output=True, text=True)


def test_the_compose_file_is_valid_by_the_schema_of_its_specification():
    done = lint("check-jsonschema", "--builtin-schema", "vendor.compose-spec", "docker/compose.yaml")
    assert done.returncode == 0, done.stdout


def test_the_schema_does_refuse_what_is_wrong(tmp_path):
    wrong = tmp_path / "compose.yaml"
    wrong.write_text((ROOT / "docker" / "compose.yaml").read_text().replace("restart: unless", "restrat: unless"))
    assert lint("check-jsonschema", "--builtin-schema", "vendor.compose-spec", str(wrong)).returncode == 1


def test_the_linter_finds_nothing_in_the_image_file():
    done = lint("hadolint", "docker/Dockerfile")
    assert done.returncode == 0, done.stdout


def test_the_image_is_pinned_built_in_stages_and_runs_as_nobody_special():
    text = DOCKERFILE.read_text()
    assert len(re.findall(r"^FROM ", text, re.MULTILINE)) == 2
    assert text.count("-c config/constraints.txt") == 2
    users = re.findall(r"^USER (.+)$", text, re.MULTILINE)
    assert users == ["10001:10001"] and text.index("USER 10001") < text.index("\nCMD ")
    assert "HEALTHCHECK" in text
    copied = re.findall(r"^COPY (?!--from)(\S+)", text, re.MULTILINE)
    assert all((ROOT / name).exists() for name in copied)


def test_no_image_is_named_with_a_registry_or_without_a_version(compose):
    names = [service["image"] for service in compose["services"].values()]
    names += [line.split()[1] for line in DOCKERFILE.read_text().splitlines() if line.startswith("FROM")]
    assert all("/" not in name and ":" in name for name in names), names


def test_our_services_are_read_only_and_drop_every_right(compose):
    for name in OURS:
        service = compose["services"][name]
        assert service["read_only"] and service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name


def test_each_lasting_service_is_watched_limited_and_started_again(compose):
    for name in set(compose["services"]) - set(ONCE):
        service = compose["services"][name]
        assert service["healthcheck"]["test"][0] == "CMD", name
        assert service["restart"] == "unless-stopped", name
        assert service["deploy"]["resources"]["limits"]["memory"], name


def test_migrations_run_once_before_anything_that_serves(compose):
    services = compose["services"]
    assert services["migrate"]["restart"] == services["prepare"]["restart"] == "no"
    assert services["prepare"]["depends_on"] == {"migrate": {"condition": "service_completed_successfully"}}
    for name in LASTING:
        assert services[name]["depends_on"]["prepare"] == {"condition": "service_completed_successfully"}
        assert "migrate" not in services[name]["command"]


def test_no_secret_stands_in_a_file_that_is_kept(compose):
    for service in compose["services"].values():
        for key, value in service["environment"].items() if "environment" in service else ():
            assert not re.search("PASSWORD|SECRET|KEY", key) or key.endswith("_FILE"), key
            assert not re.search(r"://[^/@]*:[^/@]*@", str(value)), key
    assert not re.search(r"^\w*(PASSWORD|SECRET)\w*=", EXAMPLE.read_text(), re.MULTILINE)
    ignored = (ROOT / ".gitignore").read_text().split()
    assert "docker/secrets/" in ignored and "docker/bobbin.env" in ignored


def test_database_and_broker_are_out_of_reach_from_outside(compose):
    for name in ("database", "redis"):
        assert compose["services"][name]["networks"] == ["inside"]
        assert "ports" not in compose["services"][name]
    assert compose["networks"]["inside"] == {"internal": True}
    assert compose["services"]["web"]["ports"] == ["127.0.0.1:8000:8000"]


def test_a_stop_waits_longer_than_the_web_process_needs_to_end(compose):
    from config import gunicorn

    assert int(compose["services"]["web"]["stop_grace_period"].removesuffix("s")) > gunicorn.graceful_timeout
