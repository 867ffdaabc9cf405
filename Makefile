# The verbs of the project. `make run` and `make test` need only python3 and make.
.DEFAULT_GOAL := help
PYTHON ?= python3
RUN := .venv/bin/python
DEV := .venv-test/bin/python
export PYTHONDONTWRITEBYTECODE :=

.PHONY: help run day test lint types doors fast browser site wheel bench locks tour

help: ## this list
	@grep -E '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

run: ## set up, run the demonstration day, open the workbench on it
	@$(PYTHON) tools/prepare.py run
	@$(RUN) -m lodestarch demo --serve

day: ## set up and run the demonstration day, without the workbench
	@$(PYTHON) tools/prepare.py run
	@$(RUN) -m lodestarch demo

test: ## set up and run every check
	@$(PYTHON) tools/prepare.py test
	@$(DEV) tools/check.py all

lint types doors fast browser wheel benches: ## one part of the checks
	@$(PYTHON) tools/prepare.py test
	@$(DEV) tools/check.py $@

site: ## the documentation as pages under out/site
	@$(PYTHON) tools/prepare.py test
	@$(DEV) tools/make_site.py

bench: ## every figure of docs/performance.md, peers in the same run
	@$(PYTHON) tools/prepare.py test
	@$(DEV) benchmarks/run.py

tour: ## take the pictures of docs/tour again
	@$(PYTHON) tools/prepare.py test
	@$(DEV) tools/tour.py

locks: ## renew the locks from requirements/*.in (needs uv)
	@for k in run build dev; do uv pip compile --universal --generate-hashes --no-header --no-annotate \
	  --python-version 3.11 --quiet requirements/$$k.in -o requirements/$$k.txt; done
