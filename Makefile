# chargewright: the tiers. Each one is named with the time it may take on two
# cores from a cold cache; CONTRIBUTING.md says when to run which.

SHELL       := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help

# One binary without C, the plainest amd64 (newer levels fuse multiply and add,
# which moves last digits), and builds that do not depend on git. Only what is
# used or measured is compiled by the profile of cmd/chargewright/default.pgo
# (decision 040): with it everything would be compiled twice. Nobody debugs what is
# built here, and what is shipped is stripped: the compiler writes no tables for a
# debugger, a tenth of its work [measured: 54.0 s of processor time, 48.5 so]. Stack
# traces and profiles do not need them.
export CGO_ENABLED := 0
export GOAMD64     := v1
export GOFLAGS     := -buildvcs=false -pgo=off -gcflags=all=-dwarf=false

GO        ?= go
PROFILE   := cmd/chargewright/default.pgo
TESTFLAGS ?=
FUZZTIME  ?= 30s
VERSION   ?= $(shell git describe --tags --always --dirty 2>/dev/null || echo unreleased)

# Pinned tools, built from source into .tools/bin, which git ignores.
TOOLS      := $(CURDIR)/.tools
LINT_V     := v2.15.0
GOFUMPT_V  := v0.12.0
LINT       := $(TOOLS)/bin/golangci-lint
GOFUMPT    := $(TOOLS)/bin/gofumpt
LINT_DONE  := $(TOOLS)/golangci-lint-$(LINT_V)
FMT_DONE   := $(TOOLS)/gofumpt-$(GOFUMPT_V)

.PHONY: help build test test-all check bench bench-full profile fuzz tables tool need format fmt vet lint fresh clean

help: ## what can be made
	@sed -n 's/^\([a-z-]*\):.*## /\1\t/p' Makefile | expand -t 10

# What is only built to see that it builds leaves TRIM empty: then it shares what
# the tests have compiled.
TRIM := -trimpath

build: ## bin/chargewright, static
	$(GO) build -pgo=$(PROFILE) $(TRIM) -ldflags '-s -w -X main.version=$(VERSION)' -o bin/chargewright ./cmd/chargewright

# Tests leave more garbage lying before they sweep: an eighth less work [measured:
# job TestStories 12.7 s of processor time, 10.9 so; 45 and 80 MB].
test test-all: export GOGC := 400

# Vet is left to `make vet`, which check and .ci/run make first, with more rules and
# over the same files: within go test it costs 28 s of processor time, most of it for
# what dependencies are made of.
TESTED := -vet=off

# The longest go first, so that none of them runs alone at the end.
PACKAGES := ./web ./cmd/chargewright ./journal ./...

test: need ## every test, wide enumerations sampled (under 4 minutes)
	$(GO) test -timeout 10m $(TESTED) $(TESTFLAGS) $(PACKAGES)

test-all: need ## every test with all of its cases (an hour)
	CHARGEWRIGHT_ALL=1 $(GO) test -timeout 4h $(TESTED) $(TESTFLAGS) $(PACKAGES)

check: format vet lint test fresh ## what a change must pass (under 10 minutes; first build of the linter not counted)

bench: ## hidden-fault benchmark and speeds (under 30 minutes)
	$(GO) run -pgo=$(PROFILE) ./internal/bench -out results

bench-full: ## hidden vehicles of every arrangement (hours); cut short, it goes on where it stopped
	$(GO) run -pgo=$(PROFILE) ./internal/bench -out results -full

profile: ## what the compiler is told of where the time goes, measured anew (two minutes)
	GO='$(GO)' scripts/profile.sh '$(PROFILE)'

fuzz: ## every fuzz target, FUZZTIME each
	GO='$(GO)' scripts/fuzz.sh '$(FUZZTIME)'

tables: ## the slow tables anew (minutes); their own test says when that is needed
	$(GO) generate -run tablegen ./...

tool: # TO=FILE: internal/NAME, compiled as for the tests
	$(GO) build -o '$(TO)' ./internal/$(NAME)

need: # Debian packages that tests want
	@scripts/need.sh

format: $(FMT_DONE) # reports files that gofumpt would change
	@out="$$('$(GOFUMPT)' -l .)"; \
	if [ -n "$$out" ]; then printf 'not formatted (make fmt does it):\n%s\n' "$$out"; exit 1; fi

fmt: $(FMT_DONE) ## formats every file
	'$(GOFUMPT)' -w .

vet:
	$(GO) vet ./...

lint: $(LINT_DONE) ## golangci-lint with .golangci.yml
	'$(LINT)' run ./...

fresh: # generated code and files are what go generate makes; tables have their own test
	@GO='$(GO)' scripts/fresh.sh

clean: ## removes what was built, tools included
	rm -rf bin .tools

$(LINT_DONE):
	GOBIN='$(TOOLS)/bin' $(GO) install github.com/golangci/golangci-lint/v2/cmd/golangci-lint@$(LINT_V)
	@touch $@

$(FMT_DONE):
	GOBIN='$(TOOLS)/bin' $(GO) install mvdan.cc/gofumpt@$(GOFUMPT_V)
	@touch $@
