# make demo            set up, run the main job on an invented hospital, serve it on http://localhost:8000
# make demo SERVE=no   the same, and end before serving
# make test            exactly what CI runs: lint, every test on SQLite, then on PostgreSQL what depends on the database
# make serve           set up and serve your own installation on http://localhost:8000
# make tour            make the pictures of README.md again
# make lint, bench, clean

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.PHONY: help demo test test-sqlite test-postgresql serve lint format bench tour clean tools

SERVE ?= yes
# Two cores: two processes; each starts its own services when one of its tests needs them.
PYTEST ?= .venv/bin/pytest -n 2 --dist loadfile --no-loadscope-reorder
BIN := .venv/bin
READY := .venv/.ready
READY_FOR_TESTS := .venv/.ready-for-tests
DEMO_DIR := $(CURDIR)/.bobbin/demo
# One process with threads is right for SQLite, which lets one writer in at a time; a department that needs more
# processes runs PostgreSQL and sets WEB_CONCURRENCY, which gunicorn reads itself. Gunicorn is here as in the served
# installation so that the small one differs from it in the database only.
# Beside it runs the scheduler, which runs background and daily jobs where there is no broker.
WEB := $(BIN)/python manage.py serve -- --bind 127.0.0.1:8000 --timeout 120

help:
	@sed -n 's/^# \(make\)/\1/p' Makefile

# The environment is made again only when the project file or the pinned versions change.
$(READY): pyproject.toml config/constraints.txt .ci/prepare
	@.ci/prepare --without-tests
	@touch $@

$(READY_FOR_TESTS): pyproject.toml config/constraints.txt .ci/prepare
	@.ci/prepare
	@touch $@ $(READY)

demo: $(READY)
	@rm -rf $(DEMO_DIR)
	@DATA_DIR=$(DEMO_DIR) $(BIN)/python manage.py migrate --verbosity 0
	@DATA_DIR=$(DEMO_DIR) $(BIN)/python manage.py collectstatic --noinput --verbosity 0
	@DATA_DIR=$(DEMO_DIR) $(BIN)/python manage.py demo
ifeq ($(SERVE),yes)
	@echo "Serving on http://localhost:8000 (Ctrl+C ends it)"
	@DATA_DIR=$(DEMO_DIR) $(WEB) --log-level warning
endif

serve: $(READY)
	@$(BIN)/python manage.py migrate --verbosity 0
	@$(BIN)/python manage.py collectstatic --noinput --verbosity 0
	@echo "Serving on http://localhost:8000 (Ctrl+C ends it); the first person: $(BIN)/python manage.py createsuperuser"
	@$(WEB)

test: lint test-sqlite test-postgresql

test-sqlite: $(READY_FOR_TESTS) tools
	@echo "== every test, on SQLite"
	@env -u DATABASE_URL $(PYTEST)

test-postgresql: $(READY_FOR_TESTS) tools
	@echo "== tests that depend on the database, on PostgreSQL"
	@$(BIN)/python -m tests.services.with_postgresql $(PYTEST) -m "database and not browser and not same_on_both"

lint: $(READY_FOR_TESTS)
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/lint-imports --no-logo
	@DATABASE_URL=sqlite://:memory: $(BIN)/python manage.py makemigrations --check --dry-run
	@DATABASE_URL=sqlite://:memory: $(BIN)/python manage.py check --fail-level WARNING

format: $(READY_FOR_TESTS)
	@$(BIN)/ruff check --fix .
	@$(BIN)/ruff format .

bench: $(READY_FOR_TESTS)
	@shopt -s nullglob; for file in tests/benchmarks/bench_*.py; do $(BIN)/python -m "tests.benchmarks.$$(basename "$$file" .py)"; done

tour: $(READY_FOR_TESTS) tools
	@.venv/bin/pytest -q tests/browser/tour.py

# Chromium, PostgreSQL, Redis and a PDF reader: real programs that tests run against.
tools:
	@.ci/tools

# Your own records, in .bobbin, stay.
clean:
	@rm -rf .bobbin/{bench,demo,lint,screenshots,ci.log}
	@rm -rf .venv .pytest_cache .ruff_cache .import_linter_cache .hypothesis build *.egg-info
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +
