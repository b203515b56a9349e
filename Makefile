# Each target does all of its own set-up; the first run on a fresh machine takes a minute or two.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
CONSTRAINTS := deploy/constraints.txt
PIP_INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint $(CONSTRAINTS)

.PHONY: demo test lint bench pictures format clean

demo: $(VENV)/run.stamp
	$(BIN)/clutchwarden demo

# Hundreds of tests start a process of their own: what Python has compiled is kept, also where it is told not to.
test: $(VENV)/test.stamp
	sh deploy/test-services.sh
	PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest --numprocesses 3 --dist worksteal

lint: $(VENV)/lint.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/test.stamp
	sh deploy/test-services.sh
	$(BIN)/python -m tests.bench

# The pictures of the README, anew, as the pages are now.
pictures: $(VENV)/test.stamp
	sh deploy/test-services.sh
	$(BIN)/python -m pytest -q tests/browser/test_screenshots.py -k are_made
	mkdir -p dashboards/pictures
	cp tests/output/pictures/*.png dashboards/pictures/

format: $(VENV)/lint.stamp
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

$(VENV)/made.stamp:
	$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or newer is needed; name one with: make PYTHON=python3.12") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)
	touch $@

$(VENV)/run.stamp: $(VENV)/made.stamp pyproject.toml $(CONSTRAINTS)
	@echo "Installing what clutchwarden needs into $(VENV) ..."
	$(PIP_INSTALL) --editable .
	touch $@

$(VENV)/test.stamp: $(VENV)/run.stamp
	$(PIP_INSTALL) --editable '.[test]'
	touch $@

$(VENV)/lint.stamp: $(VENV)/test.stamp
	$(PIP_INSTALL) --editable '.[test,lint]'
	touch $@

clean:
	rm -rf $(VENV) build *.egg-info .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis tests/output
