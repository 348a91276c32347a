# Two commands do all set-up: `make demo` shows the main job, `make test` passes the tests.
# Needed: Python 3.11 or newer with venv, pip and make. Nothing else.

PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11 python; do \
  $$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && { echo $$p; break; }; done)
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
EXAMPLE := examples/both-ways/both-ways.room.yaml

.PHONY: demo test thorough check docs site bench fuzz kill-test clean help
.DEFAULT_GOAL := help

help:
	@echo 'make demo    design a room for eight, both ways, and say where its dossier is'
	@echo 'make test    run every test'
	@echo 'make thorough   the same with all random rooms, about twice as long'
	@echo 'make check   lint, types, layers, generated pages (the same as pre-commit)'
	@echo 'make bench   hold the engine, placement, wiring, treatment, drawings, documents, plans and measurement to their bars'
	@echo 'make fuzz    read 10,000 spoilt documents, tables and lengths'
	@echo 'make kill-test   kill 200 saves and look whether anything is lost'
	@echo 'make docs    write the generated pages again'
	@echo 'make site    build the documentation to out/site/index.html'
	@echo 'make clean   remove the environment and every product of these commands'

$(VENV)/bin/python:
	@test -n '$(PYTHON)' || { echo 'Python 3.11 or newer was not found. Install it, or name it: make demo PYTHON=/path/to/python3' >&2; exit 2; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo '$(PYTHON) is no Python 3.11 or newer. Name one: make demo PYTHON=/path/to/python3' >&2; exit 2; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { echo 'This Python lacks the venv module. Install it (on Debian and Ubuntu the package is called python3-venv), then run make again.' >&2; exit 2; }
	@echo 'Making a virtual environment in $(VENV) …' >&2
	@$(PYTHON) -m venv $(VENV)

# A stamp each, so that the second run starts at once. Installing compiles the kernels again.
NATIVE := hatch_build.py $(wildcard src/wellheard/acoustics/native/*.[ch])

$(VENV)/user.stamp: requirements.lock pyproject.toml $(NATIVE) | $(VENV)/bin/python
	@echo 'Installing what the lock file names …' >&2
	@$(PIP) install --require-hashes -r requirements.lock
	@$(PIP) install --no-build-isolation --no-deps -e .
	@$(BIN)/wellheard --version --verbose >&2
	@touch $@

$(VENV)/dev.stamp: requirements-dev.lock pyproject.toml $(NATIVE) | $(VENV)/bin/python
	@echo 'Installing what the lock file names …' >&2
	@$(PIP) install --require-hashes -r requirements-dev.lock
	@$(PIP) install --no-build-isolation --no-deps -e .
	@$(BIN)/wellheard --version --verbose >&2
	@touch $@ $(VENV)/user.stamp

demo: $(VENV)/user.stamp
	@$(BIN)/wellheard design $(EXAMPLE) -o out/both-ways

# The tests in a browser need a Chromium; looked for, and got, once.
$(VENV)/browser.stamp: tests/browser/install.py | $(VENV)/dev.stamp
	@$(BIN)/python tests/browser/install.py
	@touch $@

# A file of tests stays in one process: what its tests share is made once. In their own order the
# doctests, which are short, come last, so that both processes end together.
test: $(VENV)/dev.stamp $(VENV)/browser.stamp
	@$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

thorough: $(VENV)/dev.stamp $(VENV)/browser.stamp
	@WELLHEARD_THOROUGH=1 $(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder

check: $(VENV)/dev.stamp
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-cache
	@$(BIN)/python docs/generate.py --check

docs: $(VENV)/dev.stamp
	@$(BIN)/python docs/generate.py

site: $(VENV)/dev.stamp
	@rm -rf out/site
	@$(BIN)/python -m sphinx -q -W --keep-going -b html -d build/doctrees docs out/site
	@echo 'out/site/index.html' >&2

bench: $(VENV)/dev.stamp $(VENV)/browser.stamp
	@$(BIN)/python -m benchmarks.bench_acoustics
	@$(BIN)/python -m benchmarks.bench_place
	@$(BIN)/python -m benchmarks.bench_wiring
	@$(BIN)/python -m benchmarks.bench_treatment
	@$(BIN)/python -m benchmarks.bench_diagram
	@$(BIN)/python -m benchmarks.bench_documents
	@$(BIN)/python -m benchmarks.bench_import
	@$(BIN)/python -m benchmarks.bench_measurement
	@$(BIN)/python -m benchmarks.bench_design
	@$(BIN)/python -m benchmarks.bench_live
	@$(BIN)/python -m benchmarks.bench_browser

fuzz: $(VENV)/dev.stamp
	@WELLHEARD_MUTATIONS=10000 $(BIN)/python -m pytest -n 2 tests/fuzz

kill-test: $(VENV)/dev.stamp
	@WELLHEARD_KILLS=200 $(BIN)/python -m pytest -n 0 tests/kill

clean:
	rm -rf $(VENV) out build dist .mypy_cache .ruff_cache .hypothesis .benchmarks
