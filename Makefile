# One command each; both set up everything they need in .venv first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test check benchmark docs

$(VENV)/ready: pyproject.toml hatch_build.py package.json package-lock.json
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --editable ".[test]"
	touch $@

demo: $(VENV)/ready
	$(BIN)/tideover demo --into demo

test: $(VENV)/ready check
	$(BIN)/python -m pytest

check: $(VENV)/ready
	$(BIN)/ruff check src tests benchmarks docs
	$(BIN)/mypy

benchmark: $(VENV)/ready
	$(BIN)/python -m benchmarks

docs: $(VENV)/ready
	$(BIN)/python docs/generate.py
