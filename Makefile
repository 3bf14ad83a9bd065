# The README's two commands are `make run` and `make test`; each sets up what it needs.
GO    ?= go
FUZZ  ?= 20s
DATA  ?= ./demo-data
ADDR  ?= 127.0.0.1:8470

# HEIC photographs are read by the decoder that the program carries, never by one of the system.
export GOFLAGS := $(shell $(GO) env GOFLAGS) -tags=nodynamic

.PHONY: run test check deps validate fuzz soak bench cross release docs clean

# Prints the example sheet, writes its PDF, loads the examples into $(DATA), serves on loopback.
# ONCE=1 stops before serving.
run:
	$(GO) run ./cmd/thrum demo --data $(DATA) --address $(ADDR) $(if $(ONCE),--once)

test: deps check
	$(GO) test ./...
	$(MAKE) --no-print-directory cross

# Formatting, vet, staticcheck; the table of allowed imports is a test (internal/house).
check:
	@out=$$($(GO) tool gofumpt -l $$(git ls-files '*.go')); if [ -n "$$out" ]; then echo "not formatted (go tool gofumpt -w .):"; echo "$$out"; exit 1; fi
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	@if [ -d node_modules/typescript ]; then echo "tsc --noEmit"; node node_modules/typescript/bin/tsc --noEmit -p tsconfig.json; fi

# Programs that some tests use: a browser, a PostgreSQL server, a PDF reader, a system-call tracer.
deps:
	@scripts/deps.sh

# Every comparison with an outside figure, printed into docs/validation.md.
validate: deps
	scripts/validate.sh

# Each parser's fuzz target for $(FUZZ).
fuzz:
	FUZZ=$(FUZZ) scripts/fuzz.sh

# The long versions of the tests.
soak: deps
	THRUM_SOAK=1 $(GO) test -timeout 4h -count=1 ./...
	FUZZ=10m scripts/fuzz.sh

# The tables and figures of docs/stories.md, from cuts followed through time.
docs:
	$(GO) run ./internal/made/stories

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# The binary needs no C compiler on any of these.
cross:
	scripts/cross.sh

# Archives for six systems, with checksums and a bill of materials, in dist/. The same sources give the same bytes.
VERSION ?= $(shell git describe --tags --always 2>/dev/null || echo development)
release:
	$(GO) run ./internal/release --version $(VERSION) --out dist

clean:
	rm -rf demo-data dist
