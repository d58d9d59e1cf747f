#!/usr/bin/env bash
# Installs the Debian packages that tests need, when it may: as root, with apt.
# Otherwise it says what is missing and which checks will not be made. It never
# fails: the tests decide (they skip, or fail under REQUIRE_ALL=1).
set -euo pipefail

# program, Debian package, what cannot be checked without it
needs=(
	"ngspice ngspice comparison of circuits with an independent simulator"
	"pdftotext poppler-utils what stands on the printed report"
	"chromium-headless-shell chromium-headless-shell a whole job in a browser, and what a screen reader is told"
	"strace strace proof that an event is synced to the disk before it is acknowledged"
	"systemd-analyze systemd whether the units in packaging are understood"
	"systemd-nspawn systemd-container whether a real systemd starts the unit, and keeps it from what it says"
	"postgres postgresql the journal on a database that several servers share"
)

# Debian keeps PostgreSQL's programs off the PATH.
have() { command -v "$1" >/dev/null || compgen -G "/usr/lib/postgresql/*/bin/$1" >/dev/null; }

# The whole browser does as well, only dearer.
stands_in() { [ "$1" = chromium-headless-shell ] && have chromium; }

missing() {
	local need program package rest
	for need in "${needs[@]}"; do
		read -r program package rest <<<"$need"
		have "$program" || echo "$need"
	done
}

install() { # packages
	if [ "$(id -u)" -ne 0 ]; then
		echo "need: not root, so nothing is installed"
	elif ! command -v apt-get >/dev/null; then
		echo "need: no apt-get here, so nothing is installed"
	else
		echo "need: installing $*"
		export DEBIAN_FRONTEND=noninteractive
		# Lists may be fresh enough: update only if the first try finds nothing.
		timeout 100 apt-get install -qq -y --no-install-recommends "$@" >/dev/null 2>&1 ||
			{ timeout 60 apt-get update -qq && timeout 100 apt-get install -qq -y --no-install-recommends "$@"; } >/dev/null 2>&1 ||
			echo "need: apt-get could not install $*"
	fi
}

before="$(missing)"
[ -z "$before" ] && exit 0

# What something else stands in for is installed with the rest, or not at all: apt is
# not asked for it again on every run.
wanted="$(while read -r program package rest; do stands_in "$program" || echo "$package"; done <<<"$before")"
[ -z "$wanted" ] && exit 0

mapfile -t packages < <(awk '{print $2}' <<<"$before" | sort -u)
install "${packages[@]}"

missing | while read -r program package rest; do
	if stands_in "$program"; then continue; fi
	if [ -n "${REQUIRE_ALL:-}" ] && [ "${REQUIRE_ALL:-}" != 0 ]; then
		what="tests that need it will fail (REQUIRE_ALL=$REQUIRE_ALL)"
	else
		what="tests that need it are skipped"
	fi
	echo "need: $program (Debian package $package) is missing: $what: $rest"
done
