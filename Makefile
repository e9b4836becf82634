# `make demo` and `make test` do all their own set-up inside this folder.
SHELL := /bin/bash
VENV := .venv
PY := $(VENV)/bin/python
PIP_INSTALL := $(PY) -m pip install --quiet --disable-pip-version-check
export CARGO_TARGET_DIR ?= $(CURDIR)/target
PYTHON ?= python3

.PHONY: help check-tools demo test test-all test-rust test-python test-c lint features header stubs rerun study bench wheel clean

help:
	@echo "make demo      review the demo trial; ends with the path of its page"
	@echo "make test      every test that needs only Rust, Python, make and a C compiler"
	@echo "make test-all  what CI runs: the above, lints, features one by one, header, stubs, browser, valgrind"
	@echo "make rerun     the review on other seeds and scenarios, share of truths inside their intervals"
	@echo "make study     coverage of intervals over simulated trials whose truth is known"
	@echo "make bench     benchmarks"
	@echo "make header    write the C header anew"
	@echo "make clean     remove what these commands made"

# Names what is missing before anything is built.
check-tools:
	@missing=0; say() { echo "missing: $$1"; missing=1; }; \
	command -v cargo >/dev/null || say "cargo and rustc 1.88 or later"; \
	if command -v rustc >/dev/null; then v=$$(rustc --version | cut -d' ' -f2 | cut -d. -f2); [ "$$v" -ge 88 ] || say "rustc 1.88 or later (found $$(rustc --version))"; fi; \
	command -v $(PYTHON) >/dev/null || say "Python 3.11 or later"; \
	if command -v $(PYTHON) >/dev/null; then \
	  $(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || say "Python 3.11 or later (found $$($(PYTHON) --version))"; \
	  $(PYTHON) -c 'import venv, ensurepip' 2>/dev/null || say "Python's venv module"; fi; \
	command -v cc >/dev/null || say "a C compiler (cc)"; \
	exit $$missing

$(VENV)/made: tests/python/constraints.txt | check-tools
	$(PYTHON) -m venv $(VENV)
	$(PIP_INSTALL) --upgrade pip -c tests/python/constraints.txt
	$(PIP_INSTALL) -c tests/python/constraints.txt maturin numpy matplotlib
	@touch $@

$(VENV)/tests-made: $(VENV)/made
	$(PIP_INSTALL) -c tests/python/constraints.txt pytest hypothesis pandas pyarrow polars scipy mypy
	@touch $@

RUST_SOURCES := $(shell find glycemic-core/src glycemic-py/src -name '*.rs') Cargo.toml Cargo.lock glycemic-core/Cargo.toml glycemic-py/Cargo.toml glycemic-py/pyproject.toml
PY_SOURCES := $(shell find glycemic-py/python -name '*.py' -o -name '*.pyi')

$(VENV)/installed: $(VENV)/made $(RUST_SOURCES) $(PY_SOURCES)
	rm -rf target/wheels
	$(VENV)/bin/maturin build --quiet --release --locked -m glycemic-py/Cargo.toml --out target/wheels
	$(PIP_INSTALL) --force-reinstall --no-deps target/wheels/*.whl
	@touch $@

wheel: $(VENV)/installed
	@ls target/wheels/*.whl

demo: $(VENV)/installed
	@rm -rf build/demo && mkdir -p build && cp -r examples/demo_trial build/demo
	@$(PY) examples/demo.py build/demo

test: test-rust test-python test-c

test-rust: check-tools
	cargo test --locked --quiet

test-python: $(VENV)/tests-made $(VENV)/installed
	$(PY) -m pytest -q tests/python
	$(PY) -m mypy.stubtest glycemic

test-c: check-tools $(VENV)/installed
	PYTHON=$(CURDIR)/$(PY) tests/c/run.sh
	$(PY) tests/c/same_as_python.py

lint: check-tools $(VENV)/tests-made
	cargo fmt --all --check
	cargo clippy --locked --workspace --all-targets --quiet -- -D warnings
	RUSTDOCFLAGS="-D warnings" cargo doc --locked --quiet --no-deps -p glycemic-core --all-features

# Each feature alone must build and lint, tests too; the tests run with none and with all.
ALL_FEATURES := tz,io,parallel,simulate,serde,ndarray
features: check-tools
	@for f in "" tz io parallel simulate serde ndarray $(ALL_FEATURES); do \
	  echo "core with [$$f]"; cargo clippy --locked --quiet -p glycemic-core --lib --tests --no-default-features --features "$$f" -- -D warnings || exit 1; done
	@for f in "" $(ALL_FEATURES); do \
	  cargo test --locked --quiet -p glycemic-core --no-default-features --features "$$f" --lib || exit 1; done

header:
	cargo run --locked --quiet -p glycemic-tests --features header --bin header

header-check:
	cargo run --locked --quiet -p glycemic-tests --features header --bin header -- --check

# Here a skip is a failure: the browser and valgrind must be there.
test-all: lint features header-check test-rust
	$(MAKE) $(VENV)/tests-made $(VENV)/installed
	REQUIRE_BROWSER=1 $(PY) -m pytest -q tests/python
	$(PY) -m mypy.stubtest glycemic
	REQUIRE_VALGRIND=1 PYTHON=$(CURDIR)/$(PY) tests/c/run.sh
	$(PY) tests/c/same_as_python.py
	cargo bench --locked --quiet -p glycemic-benches --no-run

rerun: check-tools
	cargo run --locked --release --quiet -p glycemic-tests --bin rerun

# STUDY="levels --trials 100" runs one study, or another size; --keep writes tests/studies/.
study: check-tools
	cargo run --locked --release --quiet -p glycemic-tests --bin study -- $(STUDY)

# The same figures by numpy, pandas and polars in one run; then the memory of 10,000 people.
bench: check-tools $(VENV)/tests-made $(VENV)/installed
	cargo bench --locked -p glycemic-benches
	$(PY) benches/panels.py
	$(PY) benches/panels.py --memory

clean:
	rm -rf target build $(VENV)
