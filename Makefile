# make demo and make test do all set-up: they need python3 (3.11 to 3.13) with venv and pip, and nothing else.
PYTHON ?= python3
# Every test process would compile the sources anew where the machine forbids to keep byte code.
unexport PYTHONDONTWRITEBYTECODE
VENV := .venv
BIN := $(VENV)/bin
.PHONY: demo test lint check bench docs lock licenses assets release clean

$(VENV)/.run: requirements/run.txt pyproject.toml
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Installing the hashed lock into $(VENV) (once) ..."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	@$(BIN)/python -m overwood.desk.warm
	@touch $@

$(VENV)/.test: requirements/test.txt $(VENV)/.run
	@echo "Installing the test tools (once) ..."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/test.txt
	@touch $@

$(VENV)/.docs: requirements/docs.txt $(VENV)/.run
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/docs.txt
	@touch $@

demo: $(VENV)/.run
	@$(BIN)/overwood demo

test: $(VENV)/.test
	$(BIN)/python -m pytest -n 4 --dist loadfile --no-loadscope-reorder tests

lint: $(VENV)/.test
	$(BIN)/ruff check src tests demo bench
	$(BIN)/ruff format --check src tests demo bench
	$(BIN)/mypy
	$(BIN)/lint-imports

check: lint
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -m "not slow" tests

bench: $(VENV)/.test
	$(BIN)/python bench/run.py

docs: $(VENV)/.docs
	$(BIN)/python docs/generate.py
	$(BIN)/zensical build --strict

lock:
	requirements/compile.sh

licenses: $(VENV)/.run
	$(BIN)/python requirements/licenses.py

# sdist and wheel into dist/, tried in an empty environment; needs a registry.
release:
	PYTHON=$(PYTHON) requirements/release.sh

# The map's bundle is in the repository, because a fresh machine may lack npm; this builds it again.
assets:
	cd assets && npm ci --ignore-scripts --no-audit --no-fund && npm run --silent build

clean:
	rm -rf $(VENV) demo-out site
