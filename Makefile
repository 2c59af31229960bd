# Two targets a newcomer needs: `make demo` and `make test`. Both make their own environment.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint types layers units kills bench nights proof clean
.DEFAULT_GOAL := demo

$(VENV)/made-for-demo: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "driftlead needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Run: make demo PYTHON=python3.11")'
	@echo "Making the environment in $(VENV) (a minute or two the first time) ..."
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/made-for-test: $(VENV)/made-for-demo
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $@

demo: $(VENV)/made-for-demo
	@echo "A recorded night of the sloop Corvid, through the same watch as aboard:"
	@echo
	@mkdir -p demo-out
	@# Status 10 says that an alarm was raised, which is how this night must end.
	@$(BIN)/driftlead replay replay_logs/slow-drag.log.gz --picture demo-out/slow-drag.svg \
		|| test $$? -eq 10
	@echo
	@echo "Her track with the drag circle: demo-out/slow-drag.svg"

test: lint types layers units

lint: $(VENV)/made-for-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/made-for-test
	$(BIN)/mypy

layers: $(VENV)/made-for-test
	$(BIN)/lint-imports

units: $(VENV)/made-for-test
	$(BIN)/pytest
	$(BIN)/pytest tests/web/browser -m 'browser and not bench'

kills: $(VENV)/made-for-test
	DRIFTLEAD_REAL_KILLS=200 $(BIN)/pytest tests/daemon/test_killed_for_real.py -s

bench: $(VENV)/made-for-test
	$(BIN)/pytest tests/bench -m bench -s
	$(BIN)/pytest tests/web/browser -m bench -s

nights: $(VENV)/made-for-demo
	$(BIN)/python -m driftlead.simulate.shipped replay_logs

proof: $(VENV)/made-for-test
	$(BIN)/python tests/bench/proof/run.py --set tune --hold 100 --drag 40
	$(BIN)/python tests/bench/proof/run.py --set test
	$(BIN)/python tests/bench/proof/run.py --set test --real --hold 60 --drag 60
	$(BIN)/python tests/bench/proof/report.py

clean:
	rm -rf $(VENV) demo-out build dist src/*.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis
