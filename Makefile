# Mendwright: the door to the build. Meson does the work; this file names the folders and the options.
# `make` builds, `make help` lists the rest. Every target runs from a fresh clone with nothing done by hand.

JOBS := $(shell nproc 2>/dev/null || echo 2)
FUZZ_SECONDS ?= 60
WORLDS ?= 4000
TALLY ?=
LINT_FLAGS ?=
COVERAGE_FLAGS ?=
# The suites that reach core/, bulletin/ and proof/.
COVERED = unit fuzz bag cli photo pictures
PREFIX ?= /usr/local
PAGES ?= true
NINJA = ninja --quiet -j$(JOBS) -C

# A sanitizer's finding ends the test at once, so that it can never pass unseen.
export ASAN_OPTIONS ?= halt_on_error=1:detect_stack_use_after_return=1:strict_string_checks=1
export UBSAN_OPTIONS ?= halt_on_error=1:print_stacktrace=1
STRICT = -Db_sanitize=address,undefined -Db_lundef=false -Ddebug=true

define BUILD_TEST
test -f build-test/build.ninja || CC=gcc meson setup build-test $(STRICT) -Doptimization=1 \
	-Dc_args=-fno-sanitize-recover=all >test.log || { cat test.log; exit 1; }
rm -f test.log
$(NINJA) build-test
endef

.DEFAULT_GOAL := build
.PHONY: deb sbom reproduce build wasm screenshots demo test stutter bench simulate coverage fuzz fuzz-keep lint install clean help

build: ## build/mendwright, build/mendwright-core.wasm and the pages, optimised (PAGES=false: without the pages)
	@tools/deps build
	@test -f build/build.ninja || meson setup build -Dtests=false -Dpages=$(PAGES) --prefix=$(PREFIX) >build.log || { cat build.log; exit 1; }
	@rm -f build.log
	@$(NINJA) build

wasm: build ## the core for WebAssembly, and its size
	@wc -c build/mendwright-core.wasm

screenshots: build ## every screen of the Bench, phone and desk, light and dark, into out/screenshots
	@tools/deps build test
	@node ui/test/run.mjs ui/test/browser/screenshots.ts build/ui/pages build/mendwright . out/screenshots

demo: build ## the whole chain on one unit, a campaign of 2,000 units to the money, then the pages (SERVE=no: without them)
	@tools/demo
	@tools/campaign
	@tools/pages

test: ## every test, under the address and undefined-behaviour sanitizers
	@tools/deps build test
	@rm -f build-test/meson-logs/testlog.json
	@$(BUILD_TEST)
	@meson test -C build-test --no-rebuild --num-processes $(JOBS) --print-errorlogs || true
	@tools/tally $(TALLY) build-test

stutter: ## every browser test while its processes are stopped and let go at random (SEED=1): finds what counts on luck
	@tools/deps build test
	@$(BUILD_TEST)
	@meson test -C build-test --no-rebuild --num-processes $(JOBS) --print-errorlogs --timeout-multiplier 4 --suite ui --wrapper "$(CURDIR)/tools/stutter $(or $(SEED),1)"

bench: build ## speed, side by side with what people know
	@tools/deps build test bench
	@test -f build-bench/build.ninja || meson setup build-bench -Dtests=false -Dpages=false -Dbench=true >bench.log || { cat bench.log; exit 1; }
	@rm -f bench.log
	@$(NINJA) build-bench
	@test/bench/run build build-bench

simulate: ## how often intervals and verdicts hold what was planted, in WORLDS made-up worlds each (4000)
	@tools/deps build test bench
	@test -f build-bench/build.ninja || meson setup build-bench -Dtests=false -Dpages=false -Dbench=true >bench.log || { cat bench.log; exit 1; }
	@rm -f bench.log
	@$(NINJA) build-bench
	@test/sim/run build-bench $(WORLDS)

coverage: ## lines of core/, bulletin/ and proof/ that the tests reach, file by file; an error under 90 % (COVERAGE_FLAGS=--missing: which not)
	@tools/deps build test
	@test -f build-cov/build.ninja || CC=gcc meson setup build-cov -Db_coverage=true -Doptimization=0 -Dpages=false -Dwasm=false >cov.log || { cat cov.log; exit 1; }
	@rm -f cov.log
	@find build-cov -name '*.gcda' -delete
	@meson test -C build-cov --quiet --num-processes $(JOBS) --timeout-multiplier 4 $(addprefix --suite ,$(COVERED)) >build-cov/tests.log 2>&1 || { cat build-cov/tests.log; exit 1; }
	@sed -n '/^Ok:/,/^Timeout:/p' build-cov/tests.log
	@tools/coverage build-cov $(COVERAGE_FLAGS)

fuzz: ## libFuzzer on every reader of input, FUZZ_SECONDS each (60)
	@tools/deps build fuzz
	@test -f build-fuzz/build.ninja || CC=clang meson setup build-fuzz $(STRICT) -Doptimization=1 -Dtests=false \
		-Dwasm=false -Dfuzz=true -Dc_args='-fsanitize=fuzzer-no-link -fno-sanitize-recover=all' >fuzz.log || { cat fuzz.log; exit 1; }
	@rm -f fuzz.log
	@$(NINJA) build-fuzz
	@tools/fuzz build-fuzz $(FUZZ_SECONDS) $(JOBS)

fuzz-keep: ## add to the corpus whatever the last `make fuzz` found that reaches new code
	@tools/fuzz --keep build-fuzz

lint: ## format, clang-tidy, cppcheck, file length, include direction (LINT_FLAGS=--quick: no clang-tidy)
	@tools/deps build lint
	@tools/lint $(LINT_FLAGS) $(JOBS)

install: build ## into PREFIX (/usr/local); DESTDIR is honoured
	@meson install -C build --no-rebuild

deb: ## the Debian package, build-deb/mendwright_*.deb, and what lintian says of it
	@tools/deps build deb
	@tools/deb
	@lintian --allow-root --fail-on error,warning build-deb/mendwright_*.deb

sbom: build ## what the program is made of, packages with versions: out/mendwright.spdx.json (SPDX 2.3)
	@mkdir -p out
	@tools/sbom build/mendwright >out/mendwright.spdx.json
	@tools/sbom --check out/mendwright.spdx.json

reproduce: ## build twice, elsewhere and otherwise, and compare byte for byte
	@tools/deps build
	@tools/reproduce out/reproduce $(JOBS)

clean: ## remove every build folder
	rm -rf build build-*

help: ## this list
	@sed -n 's/^\([a-z-]*\):[^#]*## \(.*\)/  make \1|\2/p' Makefile | while IFS='|' read -r name what; do \
		printf '%-18s %s\n' "$$name" "$$what"; done
