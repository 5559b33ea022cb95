# The two commands a newcomer needs are `make run` and `make test`; each sets up all that it needs.
PYTHON ?= python3
PORT ?= 8765
VENV := .venv
PY := $(VENV)/bin/python
ASSETS := src/fizzwright/web/static/vendor/.ready
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: run test lint bench soak browser clean help

help:
	@echo "make run    set up and open the workbench with the Quillmoor demo (PORT=$(PORT))"
	@echo "make test   set up, lint and run every test, a real browser included"
	@echo "make lint   ruff, the type checker and the rule that imports go down the house only"
	@echo "make bench  print the measured ratios"
	@echo "make soak   the long fuzz runs"

run: $(VENV)/.run-ready $(ASSETS)
	$(VENV)/bin/fizzwright demo --port $(PORT)

test: $(VENV)/.test-ready $(ASSETS) browser lint
	$(PY) -m pytest -n 2 --dist worksteal

lint: $(VENV)/.test-ready
	$(VENV)/bin/ruff check src tests benchmarks tools
	$(VENV)/bin/ruff format --check src tests benchmarks tools
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports

bench: $(VENV)/.test-ready $(ASSETS)
	$(PY) benchmarks/run.py

soak: $(VENV)/.test-ready $(ASSETS)
	FIZZWRIGHT_SOAK=1 $(PY) -m pytest -n 2 -m "slow or not slow" --hypothesis-profile soak

browser:
	bash tools/browser.sh

$(PY):
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "fizzwright needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Try: make PYTHON=python3.11 run")'
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run-ready: pyproject.toml locks/run.txt | $(PY)
	$(PY) -m pip install --quiet --require-hashes -r locks/run.txt
	$(PY) -m pip install --quiet --no-deps -e .
	@touch $@

$(VENV)/.test-ready: $(VENV)/.run-ready locks/test.txt
	$(PY) -m pip install --quiet --require-hashes -r locks/test.txt
	@touch $@

$(ASSETS): package-lock.json tools/assets.py tools/npm.sh | $(VENV)/.run-ready
	bash tools/npm.sh ci --ignore-scripts --silent
	$(PY) tools/assets.py
	@touch $@

clean:
	rm -rf $(VENV) node_modules src/fizzwright/web/static/vendor src/fizzwright/papers/fonts build test-output
