# make demo    arrange the bundled tune into out/demo/
# make serve   open the page, a working place in the browser
# make check   style, types and the quick tests: while working
# make test    style, types and all tests
# make coverage  which lines the quick tests run
# make wheel   build a wheel, install it in a clean environment, run it there
# make attack  spoilt files, hostile requests, kills, a full disk; ATTACK="--files 5000 --seed 7"
# make lint    style and types only
# make bench   speed, as ratios within one run
# make licences  of everything that is installed with the program
# make page    draw the picture of the README again
# make pictures  all pictures of the documents
# make clean   remove what was made here
#
# Nothing but python3 (3.11 or newer, with venv) and make is needed; the rest goes into .venv.

.DEFAULT_GOAL := help
.PHONY: help demo serve check test coverage attack lint licences wheel bench page pictures clean

VENV := .venv
BIN := $(VENV)/bin
# The first python3 that is new enough and can make a virtual environment with pip in it.
PYTHON ?= $(shell for p in python3 python3.14 python3.13 python3.12 python3.11 /usr/bin/python3; do \
	"$$p" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' \
	>/dev/null 2>&1 && echo "$$p" && break; done)
export PIP_DISABLE_PIP_VERSION_CHECK := 1
# The tests start the program a hundred times: what Python compiles for the first is kept for all.
unexport PYTHONDONTWRITEBYTECODE
PIP := $(BIN)/python -m pip install -qq -c constraints.txt

help:
	@sed -n 's/^# \{0,1\}//p;/^$$/q' Makefile

$(BIN)/python:
	@test -n "$(PYTHON)" || { echo "python3 3.11 or newer with venv is needed" \
	"(Debian: apt-get install python3 python3-venv)" >&2; exit 1; }
	@"$(PYTHON)" -m venv $(VENV)

# Stamps: an install is repeated only when what it depends on has changed.
$(VENV)/.installed: pyproject.toml constraints.txt | $(BIN)/python
	@echo "Installing what the program needs into $(VENV), once"
	@$(PIP) -e .
	@touch $@

$(VENV)/.installed-dev: pyproject.toml constraints.txt | $(BIN)/python
	@echo "Installing what the tests need into $(VENV), once"
	@$(PIP) -e '.[dev]'
	@touch $@ $(VENV)/.installed

demo: $(VENV)/.installed
	@$(BIN)/fillwright demo -o out/demo
	@echo; echo 'The page, a working place in the browser: make serve'

serve: $(VENV)/.installed
	@$(BIN)/fillwright serve

lint: $(VENV)/.installed-dev
	$(BIN)/ruff check
	$(BIN)/mypy

check: lint
	$(BIN)/pytest -n 2 --dist worksteal -m "not slow" -p no:schemathesis

test: lint
	$(BIN)/pytest -n auto --dist worksteal

coverage: $(VENV)/.installed-dev
	$(BIN)/pytest -n auto --dist worksteal -m "not slow" -p no:schemathesis --cov --cov-report=term

attack: $(VENV)/.installed-dev
	@$(BIN)/python -m tests.hostile.attack $(ATTACK)

# Outside of the tree, so that what the wheel lacks is missed.
wheel: | $(BIN)/python
	@rm -rf build/wheel && mkdir -p build/wheel
	@$(BIN)/python -m pip wheel -qq --no-deps -w build/wheel .
	@$(BIN)/python -m venv build/wheel/env
	@build/wheel/env/bin/python -m pip install -qq -c constraints.txt build/wheel/*.whl
	@cd build/wheel && env -u PYTHONPATH env/bin/fillwright demo --list
	@cp src/fillwright/data/lamp.musicxml build/wheel/
	@cd build/wheel && env -u PYTHONPATH env/bin/fillwright gaps lamp.musicxml >gaps.txt
	@head -n 3 build/wheel/gaps.txt

bench: $(VENV)/.installed-dev
	@bench/run

licences: $(VENV)/.installed
	@$(BIN)/python tools/licences.py

# The picture in the README, made by the program itself.
page: $(VENV)/.installed-dev
	@$(BIN)/fillwright demo -o out/page
	@mkdir -p docs
	$(BIN)/python tools/picture_of_page.py out/page/arrangement.pdf docs/page.png

# All pictures of the documents: pages of music, and the page in a browser.
pictures: page
	@$(BIN)/python examples/study.py -o out/study >out/study.txt
	@for family in comp reharm line; do \
	$(BIN)/python tools/picture_of_page.py out/study/$$family-study.pdf \
	docs/img/$$family-study-beginner.png docs/img/$$family-study-intermediate.png \
	docs/img/$$family-study-advanced.png; done
	FILLWRIGHT_PICTURES=1 $(BIN)/pytest -q tests/web/test_browser.py -k screenshots

clean:
	rm -rf $(VENV) out build .mypy_cache .ruff_cache .hypothesis .pytest_cache .benchmarks .coverage
	rm -rf src/*.egg-info
	find src tests bench tools -name __pycache__ -type d -prune -exec rm -rf {} +
