# What a contributor runs. `make test` is what CI runs, too.

SHELL    := /bin/bash
GO       ?= go
PACKAGES := ./...
# Folders that start nothing and share nothing, which a test of app holds them to: a race
# detector finds nothing there and makes their long calculations five times as long.
PURE     := ./detect ./detect/stat ./ingest/payload ./ingest/visit ./ingest/whose ./simulator ./app/replay
# Real parts that tests start. "program:Debian package".
NEEDS    := mosquitto:mosquitto mosquitto_pub:mosquitto-clients chromium:chromium npm:npm java:default-jre-headless prometheus:prometheus systemd-analyze:systemd pdftotext:poppler-utils strace:strace victoria-metrics:victoria-metrics

# The engine that the mirror is tested against.
INFLUXD  := v1.8.10

export PATH := $(PATH):/usr/sbin

.PHONY: build test check quick needs race long bench demo characteristics pictures release long-release houses reference

build: ## the program, without debug symbols
	CGO_ENABLED=0 $(GO) build -trimpath -ldflags '-s -w' -o bin/weighbeam ./cmd/weighbeam

test: needs check race ## everything that must hold before a change is taken

check: ## formatting, vet, staticcheck
	@unformatted=$$(gofmt -l $$(git ls-files '*.go')); \
	if [ -n "$$unformatted" ]; then echo "Not formatted (run gofmt -w on them):"; echo "$$unformatted"; exit 1; fi
	$(GO) mod verify
	$(GO) vet $(PACKAGES)
	$(GO) tool staticcheck $(PACKAGES)

race: ## all tests, under the race detector where there can be a race; CI=1 makes a missing real part a failure
	$(GO) test $(PURE)
	CI=1 $(GO) test -race -timeout 14m $$($(GO) list $(PACKAGES) | grep -vxF "$$($(GO) list $(PURE))")

quick: ## all tests that need only Go; lists those that were skipped
	@set -o pipefail; $(GO) test -v $(PACKAGES) 2>&1 | grep -E '^(FAIL|ok|panic)|^ *--- (FAIL|SKIP)|SKIPPED'

needs: ## installs the real parts that tests start, or says how to
	@for need in $(NEEDS); do \
	  program=$${need%%:*}; package=$${need##*:}; \
	  command -v $$program >/dev/null 2>&1 && continue; \
	  if command -v apt-get >/dev/null 2>&1 && [ "$$(id -u)" = 0 ]; then \
	    [ -n "$$updated" ] || apt-get update -qq; updated=1; \
	    echo "installing $$package"; \
	    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$package >/dev/null || exit 1; \
	  else \
	    echo "$$program is missing, and tests need it: apt-get install $$package (as root)"; missing=1; \
	  fi; \
	done; [ -z "$$missing" ]
	@[ -x bin/influxd ] || { echo "building influxd $(INFLUXD) into bin/ (a minute or two)"; \
	  cd / && GOBIN="$(CURDIR)/bin" GOFLAGS= $(GO) install github.com/influxdata/influxdb/cmd/influxd@$(INFLUXD); }

long: ## the crash tests with two hundred kills each, and the fault tests at full size
	WEIGHBEAM_KILLS=200 $(GO) test -count=1 -timeout 60m -run KillNine -v ./cmd/weighbeam
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 14m -run KilledAt -v ./ingest
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 30m -run 'Full|Terminated|HeldUp|Whatever|Network|Flood|SlowDisk|DayOfFaults|DaysInASoak' -v ./cmd/weighbeam
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 14m -run 'RandomKills|OneKill' -v ./notify
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 14m -run EachFinding -v ./cmd/weighbeam

bench: ## how fast it is
	$(GO) test -run '^$$' -bench . -benchmem $(PACKAGES)

release: ## programs, Debian packages, checksums and list of parts into dist/; VERSION=1.2.0
	deploy/release.sh $(or $(VERSION),$(error say which: make release VERSION=1.2.0)) dist

houses: ## what many houses in one process take, as a table
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 30m -run ManyHouses_Table -v ./app

long-release: ## a release built twice is the same, and starts on ARM (needs qemu-user-static)
	WEIGHBEAM_LONG=1 $(GO) test -count=1 -timeout 60m -run Release -v ./cmd/weighbeam

demo: ## a made-up house to look around in
	$(GO) run ./cmd/weighbeam demo

characteristics: ## false findings and delays of the detectors, measured again on simulated cats
	WEIGHBEAM_LONG=1 $(GO) test ./detect -count=1 -timeout 30m -run Weights_Characteristics -update-weights
	WEIGHBEAM_LONG=1 $(GO) test ./detect -count=1 -timeout 30m -run Breathing_Characteristics -update-breathing
	WEIGHBEAM_LONG=1 $(GO) test ./app/replay -count=1 -timeout 60m -run Houses_Characteristics -update-houses

reference: ## figures of scipy for detect/stat, made again (Debian: python3-scipy)
	@command -v /usr/bin/python3 >/dev/null && /usr/bin/python3 -c 'import scipy' 2>/dev/null || { echo "scipy is missing: apt-get install python3-scipy (as root)"; exit 1; }
	/usr/bin/python3 detect/stat/reference/with_scipy.py > detect/stat/testdata/scipy.json.got
	mv detect/stat/testdata/scipy.json.got detect/stat/testdata/scipy.json
	$(GO) test -count=1 -run Reference_Scipy ./detect/stat

pictures: ## the pictures of the README, taken by the browser test of the demo
	WEIGHBEAM_ARTEFACTS=$(CURDIR)/artefacts $(GO) test -count=1 -run TestDemo ./app/browsertest
	mkdir -p docs/pictures
	cp artefacts/pages/demo-house.png docs/pictures/house.png
