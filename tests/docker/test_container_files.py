"""The container files: valid by the published schema and a linter, and as careful as the house asks."""

import re
import subprocess
import sys
from hashlib import sha256
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


def image_names(compose):
    names = [service["image"] for service in compose["services"].values()]
    return names + [line.split()[1] for line in DOCKERFILE.read_text().splitlines() if line.startswith("FROM")]


def test_no_image_is_named_with_a_registry_or_without_a_version(compose):
    names = image_names(compose)
    assert all("/" not in name and ":" in name for name in names), names


def test_an_image_of_others_is_named_by_a_digest_without_which_nothing_starts_or_is_built(compose):
    others = [name for name in image_names(compose) if not name.startswith("bobbin:")]
    assert len(others) == 4
    for name in others:
        digest = name.split("@")[1]
        assert re.fullmatch(r"\$\{\w+_DIGEST(:\?.+)?\}", digest), "asked for by a variable without a default"
    text = (ROOT / "docker" / "compose.yaml").read_text()
    wanted = set(re.findall(r"\$\{(\w+_DIGEST):\?", text))
    assert wanted == {"PYTHON_DIGEST", "POSTGRES_DIGEST", "REDIS_DIGEST"}
    assert "\nARG PYTHON_DIGEST\n" in DOCKERFILE.read_text(), "no default"


def test_the_script_that_pins_asks_for_the_very_images_that_are_named(compose, tmp_path):
    """With a program in the place of docker that answers as the registry would."""
    fake = tmp_path / "docker"
    fake.write_text('#!/bin/sh\necho "sha256:$(printf %s "$4" | sha256sum | cut -c1-64)"\n')
    fake.chmod(0o755)
    script = ROOT / "docker" / "pin-images"
    done = subprocess.run([script], env={"PATH": f"{tmp_path}:/usr/bin:/bin"}, capture_output=True, text=True)
    lines = dict(line.split("=") for line in done.stdout.splitlines())
    assert set(lines) == {"PYTHON_DIGEST", "POSTGRES_DIGEST", "REDIS_DIGEST"}
    for name in image_names(compose):
        if not name.startswith("bobbin:"):
            image, variable = re.fullmatch(r"(.+)@\$\{(\w+).*", name).groups()
            assert lines[variable] == f"sha256:{sha256(image.encode()).hexdigest()}"
    fake.write_text("#!/bin/sh\necho none\n")
    refused = subprocess.run([script], env={"PATH": f"{tmp_path}:/usr/bin:/bin"}, capture_output=True, text=True)
    assert refused.returncode == 1 and "no digest" in refused.stderr


def test_every_service_is_read_only_drops_every_right_and_writes_to_sized_places(compose):
    for name, service in compose["services"].items():
        assert service["read_only"] and service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
        assert service["tmpfs"] and all(":size=" in place for place in service["tmpfs"]), name
        assert "privileged" not in service and "cap_add" not in service, name


def test_the_program_has_no_password_of_the_superuser_and_the_database_makes_it_an_ordinary_role(compose):
    services = compose["services"]
    for name in OURS:
        assert services[name]["secrets"] == ["secret_key", "database_password"], name
        assert services[name]["environment"]["DATABASE_URL"].startswith("postgres://bobbin@")
    database = services["database"]
    assert database["environment"]["POSTGRES_USER"] == "postgres"
    assert "./database:/docker-entrypoint-initdb.d:ro" in database["volumes"]
    assert (ROOT / "docker" / "database" / "10-application-role.sh").exists()


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
