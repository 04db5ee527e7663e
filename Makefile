# Two commands do everything on a fresh Debian-like machine: `make demo` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= demo

.PHONY: demo test lint bench format lock clean

$(BIN)/.run: requirements.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@

$(BIN)/.dev: requirements-dev.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@ $(BIN)/.run

demo: $(BIN)/.run
	$(BIN)/midfoot models fetch
	$(BIN)/midfoot demo --out $(OUT)

test: $(BIN)/.dev
	sh tools/chromium.sh
	$(BIN)/midfoot models fetch
	$(MAKE) --no-print-directory lint
	$(BIN)/pytest

lint: $(BIN)/.dev
	$(BIN)/ruff check src lab tests
	$(BIN)/ruff format --check --quiet src lab tests
	$(BIN)/mypy
	$(BIN)/lint-imports

format: $(BIN)/.dev
	$(BIN)/ruff check --fix --quiet src lab tests
	$(BIN)/ruff format --quiet src lab tests

# LAB is a Python with lab/requirements.txt and midfoot in it (lab/README.md); without it no clips are drawn.
LAB ?=
bench: $(BIN)/.dev
	$(BIN)/python -m lab.score $(BENCH)
	$(if $(LAB),$(LAB) -m lab.bench_records --sets 300 --jobs 2)
	$(if $(LAB),$(LAB) -m lab.bench_clips --phone 1-200 --planted 1-300 --jobs 2)
	$(if $(LAB),$(LAB) -m lab.bench_clips --sweep 1-3 --jobs 2 --out out/sweep)

lock:
	$(BIN)/uv pip compile pyproject.toml -c lock-constraints.txt --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
	  --no-header --no-annotate --quiet -o requirements.lock
	$(BIN)/uv pip compile pyproject.toml -c lock-constraints.txt --extra dev --universal --python-version 3.11 --generate-hashes \
	  --no-emit-index-url --no-header --no-annotate --quiet -o requirements-dev.lock

clean:
	rm -rf $(VENV) build dist demo out
