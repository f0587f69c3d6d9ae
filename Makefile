# What can be done here. Every target installs what it needs first (quick when nothing has changed).
#
#   make PYTHON=/path/to/python3.12 …   with a Python of your choice
#   make test PYTEST_ARGS='-x tests/plan'

PYTHON ?=
PYTEST_ARGS ?= -n auto --dist worksteal
ONCE ?=
export PYTHON ONCE
# What is imported is compiled once and kept, also where the environment says otherwise: the tests start
# many processes, and each would compile the package anew.
unexport PYTHONDONTWRITEBYTECODE
run = .venv/bin/python -m

.PHONY: help setup test test-oldest demo lint types imports docs-check docs format lock bench coverage clean

help: ## this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  make \1|\2/p' $(MAKEFILE_LIST) | awk -F'|' '{printf "%-20s %s\n", $$1, $$2}'

setup: ## install what development needs into .venv
	@tools/setup.sh dev

test: setup ## run the whole test suite
	@$(run) pytest $(PYTEST_ARGS)

test-oldest: ## run the test suite with the oldest releases that pyproject.toml allows
	@tools/setup.sh oldest
	@.venv-oldest/bin/python -m pytest $(PYTEST_ARGS)

demo: ## run the jobs on the shipped demo (under out/), then serve the bench (ONCE=1: look at it and stop)
	@tools/setup.sh run
	@tools/demo.sh

lint: setup ## lint Python and shell
	@$(run) ruff check
	@$(run) ruff format --check
	@.venv/bin/shellcheck tools/*.sh .ci/run

types: setup ## check types, strictly
	@$(run) mypy

imports: setup ## check who may import whom, and that every import is a declared dependency
	@.venv/bin/lint-imports --no-logo
	@$(run) deptry src

docs-check: setup ## check that the documents are true
	@$(run) pytest -q -p no:cacheprovider tests/house/test_docs.py

docs: setup ## write the generated passages of the documents anew
	@$(run) tools.docs

format: setup ## format the code
	@$(run) ruff format
	@$(run) ruff check --fix

lock: ## pin the dependencies anew (needs the network)
	@tools/lock.sh

bench: setup ## measure the start-up, the planner and fault finding
	@$(run) benchmarks.startup
	@$(run) benchmarks.plan --seeds 0-9 --solver-seeds 1
	@$(run) benchmarks.fault --seeds 0-1 --jobs 10

coverage: setup ## which lines the tests do not reach
	@.venv/bin/coverage erase
	@.venv/bin/coverage run -m pytest
	@.venv/bin/coverage combine -q
	@.venv/bin/coverage report

clean: ## remove everything that was made here
	rm -rf .venv .venv-oldest out build dist src/*.egg-info
	rm -rf .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis .coverage*
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
