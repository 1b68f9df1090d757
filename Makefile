# Two commands: `make demo` and `make test`. Each is enough by itself on a fresh machine.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SERVE ?= 1

.PHONY: demo test programs lint types unit browser bench clean setup setup-dev

demo: setup
	$(BIN)/printlore demo $(if $(filter 0,$(SERVE)),--no-serve,)

test: setup-dev programs lint types unit browser

setup: $(VENV)/.installed
setup-dev: $(VENV)/.installed-dev

$(VENV)/bin/python:
	$(PYTHON) scripts/make_venv.py $(VENV)

$(VENV)/.installed: requirements.txt pyproject.toml | $(VENV)/bin/python
	@echo "Fetching the libraries; the first time this takes a minute or two."
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/.installed-dev: requirements-dev.txt $(VENV)/.installed
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.txt
	touch $@

lint:
	$(BIN)/ruff check src tests bench scripts
	$(BIN)/ruff format --check src tests bench scripts

types:
	$(BIN)/mypy

unit:
	OPENBLAS_NUM_THREADS=1 $(BIN)/pytest -n 2 -m "not browser"

programs:
	$(BIN)/python scripts/need_programs.py

browser:
	OPENBLAS_NUM_THREADS=1 $(BIN)/pytest -m "browser and not slow" -o faulthandler_timeout=300
	OPENBLAS_NUM_THREADS=1 $(BIN)/pytest -n 2 -m "browser and slow"

bench:
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m bench

clean:
	rm -rf $(VENV) build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache
