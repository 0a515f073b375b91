# bedlore: make run | test | prove | demo | lint | docs | bench | clean
#
# POSIX make. Override on the command line, for example: make run LAN=1 DATA_DIR=/srv/bedlore

PYTHON = python3
VENV = .venv
DEMO_DIR = ./run/ousel-mill
DATA_DIR = ./run/data
PORT = 8021
SERVE =
LAN =
TLS = 1
JOBS = 2
BIN = $(VENV)/bin

.PHONY: run test prove demo lint docs bench clean

# Only what the product needs: environment, invented farm, today's advice, the page; then the
# server with its worker, until Ctrl-C. It stops after the advice with SERVE=0, and by itself where
# CI is set. LAN=1 opens the pages to the home network over TLS, LAN=1 TLS=0 without.
run: demo
	@unset PYTHONDONTWRITEBYTECODE; set -e; \
	$(BIN)/bedlore today "$(DEMO_DIR)"; \
	$(BIN)/bedlore report "$(DEMO_DIR)"; \
	case "$(SERVE)$${CI:+ci}" in 0*|ci) exit 0;; esac; \
	set -- --data "$(DATA_DIR)" --farm "$(DEMO_DIR)" --port "$(PORT)"; \
	[ "$(LAN)" != 1 ] || set -- "$$@" --lan; \
	[ "$(LAN)$(TLS)" != 10 ] || set -- "$$@" --plain; \
	exec $(BIN)/bedlore serve "$$@"

# The invented farm, written once and then left alone: the keeper may have changed it.
demo: $(VENV)/.run-stamp
	@unset PYTHONDONTWRITEBYTECODE; \
	[ -f "$(DEMO_DIR)/farm.toml" ] || $(BIN)/bedlore demo "$(DEMO_DIR)"

# The loop is compiled once before the test processes ask for it side by side.
test: lint
	@unset PYTHONDONTWRITEBYTECODE; set -e; \
	$(BIN)/python -m bedlore.bed.warm; \
	$(BIN)/python -m pytest -n $(JOBS)

lint: $(VENV)/.test-stamp
	$(BIN)/ruff check .
	$(BIN)/mypy

# The long proofs and the figures of record, filed in benchmarks/results.md.
prove: bench
	@unset PYTHONDONTWRITEBYTECODE; \
	$(BIN)/python -m pytest tests/prove -m prove -n $(JOBS) --hypothesis-profile=prove

bench: $(VENV)/.test-stamp
	@unset PYTHONDONTWRITEBYTECODE; set -e; \
	for question in benchmarks/bench_*.py; do \
	  [ -f "$$question" ] || continue; \
	  echo "== $$question"; $(BIN)/python -m benchmarks.$$(basename "$$question" .py); \
	done

# Writes the generated pages again: docs/parameters.md and docs/cli.md.
docs: $(VENV)/.test-stamp
	@unset PYTHONDONTWRITEBYTECODE; $(BIN)/python -m tools.gen_docs

clean:
	rm -rf build dist .pytest_cache .mypy_cache .ruff_cache
	find src tests benchmarks tools -name __pycache__ -type d -prune -exec rm -rf {} +

$(BIN)/python:
	@command -v $(PYTHON) >/dev/null || { \
	  echo "Python is missing: install python3 (3.11 or newer) and run make again."; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.maxsize < 2**32)' || { \
	  echo "bedlore needs a 64-bit machine with a 64-bit Python."; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "bedlore needs Python 3.11 or newer; $(PYTHON) is older." \
	       "Name a newer one, for example: make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "Python's venv module is missing: install the package python3-venv."; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run-stamp: pyproject.toml $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --compile -e .
	@$(BIN)/python -m compileall -q src
	@touch $@

$(VENV)/.test-stamp: pyproject.toml $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --compile -e '.[test]'
	@$(BIN)/python -m compileall -q src tests
	@touch $@ $(VENV)/.run-stamp
