#!/usr/bin/env bash
# Runs every test of the workspace from a clean clone: formatting, lints, unit tests, capability and
# reference tests, documentation examples. Installs what is missing by package name and says what it
# skipped.
#
#   bash tests/run.sh                 everything that runs daily
#   bash tests/run.sh journal         only tests whose name contains 'journal'
#   bash tests/run.sh clients         only the foreign clients: Python from .proto and by reflection, buf
#   bash tests/run.sh stores          only the journal in PostgreSQL and the move there and back
#   bash tests/run.sh forwarding      only what goes between workshops and their owner's server
#   bash tests/run.sh browser         only the pages in a real browser, held against WCAG by axe-core
#   bash tests/run.sh --full          the long fault campaigns too
set -euo pipefail
cd "$(dirname "$0")/.."

full=0
filter=""
for argument in "$@"; do
  case "$argument" in
    --full) full=1 ;;
    -h | --help) sed -n '2,12p' "$0" | sed 's/^# \{0,1\}//'; exit 0 ;;
    -*) echo "tests/run.sh: '$argument' is not known; see --help" >&2; exit 64 ;;
    *) filter="$argument" ;;
  esac
done

skipped=()
say() { printf '\n== %s\n' "$*"; }

# Tools that some tests call. Without them those tests say 'skipped' and pass.
need() { # command, Debian package
  command -v "$1" >/dev/null 2>&1 && return 0
  if command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]; then
    say "Installing $2"
    apt-get install -y -qq "$2" >/dev/null 2>&1 ||
      { apt-get update -qq >/dev/null 2>&1 && apt-get install -y -qq "$2" >/dev/null 2>&1; } || true
  fi
  command -v "$1" >/dev/null 2>&1 || skipped+=("tests that need $1 (Debian package $2)")
}
need cc gcc
need qpdf qpdf
need pdftotext poppler-utils
need python3 python3
need strace strace
need systemd-analyze systemd
need chromium chromium
need chromedriver chromium-driver

export CARGO_TERM_COLOR=never
export STANDPIPE_TEST_CAMPAIGN=$([ "$full" = 1 ] && echo full || echo daily)
[ "$full" = 1 ] || skipped+=("the long fault campaigns (run with --full; the daily run takes a fortieth of their counts)")

# Foreign clients; what cannot be had is left out, and its tests say 'skipped'.
if [ -z "$filter" ] || [[ clients == *"$filter"* ]]; then
  need npm npm
  mkdir -p "${CARGO_TARGET_DIR:-target}/clients"
  STANDPIPE_CLIENTS="$(cd "${CARGO_TARGET_DIR:-target}/clients" && pwd)"
  export STANDPIPE_CLIENTS
  say "Foreign clients"
  while IFS= read -r missing; do skipped+=("tests that need $missing"); done < <(bash tests/clients/set_up.sh "$STANDPIPE_CLIENTS")
fi

# One database server for all tests that need one and do not break it; it ends with this script.
if [ -z "$filter" ] || [[ stores == *"$filter"* ]]; then
  server_of() { ls /usr/lib/postgresql/*/bin/postgres 2>/dev/null | sort -V | tail -1; }
  if [ -z "$(server_of)" ] && command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]; then
    say "Installing postgresql"
    apt-get install -y -qq postgresql >/dev/null 2>&1 ||
      { apt-get update -qq >/dev/null 2>&1 && apt-get install -y -qq postgresql >/dev/null 2>&1; } || true
  fi
  say "Database"
  if STANDPIPE_POSTGRES="$(bash tests/postgres/set_up.sh)"; then
    export STANDPIPE_POSTGRES
    trap 'bash tests/postgres/set_up.sh --stop "$STANDPIPE_POSTGRES"' EXIT
  else
    skipped+=("tests that need PostgreSQL (Debian package postgresql)")
    unset STANDPIPE_POSTGRES
  fi
fi

# What holds the pages against the guidelines; without it the browser tests look with their own list only.
if [ -z "$filter" ] || [[ browser == *"$filter"* ]]; then
  need npm npm
  mkdir -p "${CARGO_TARGET_DIR:-target}/browser"
  STANDPIPE_BROWSER="$(cd "${CARGO_TARGET_DIR:-target}/browser" && pwd)"
  export STANDPIPE_BROWSER
  # The pages ask for Lato first, so their pictures are taken with it; they are held to fit with wider letters too.
  if command -v fc-list >/dev/null 2>&1 && ! fc-list | grep -qi lato && command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ]; then
    say "Installing fonts-lato"
    apt-get install -y -qq fonts-lato >/dev/null 2>&1 ||
      { apt-get update -qq >/dev/null 2>&1 && apt-get install -y -qq fonts-lato >/dev/null 2>&1; } || true
  fi
  say "Accessibility rules"
  while IFS= read -r missing; do skipped+=("tests that need $missing"); done < <(bash tests/browser/set_up.sh "$STANDPIPE_BROWSER")
fi

if [ -z "$filter" ]; then
  say "Formatting"
  if cargo fmt --version >/dev/null 2>&1; then cargo fmt --all --check; else skipped+=("formatting (no rustfmt)"); fi
  say "Lints"
  if cargo clippy --version >/dev/null 2>&1; then
    cargo clippy --workspace --all-targets --quiet -- -D warnings
  else
    skipped+=("lints (no clippy)")
  fi
fi

say "Programs"
cargo build --workspace --bins --quiet

say "Tests"
if cargo nextest --version >/dev/null 2>&1; then
  cargo nextest run --workspace --no-fail-fast ${filter:+"$filter"}
else
  skipped+=("cargo-nextest (not installed; cargo test instead)")
  cargo test --workspace --no-fail-fast --lib --bins --test main -- ${filter:+"$filter"}
fi

if [ "$full" = 1 ] && [ -z "$filter" ]; then
  say "Builds that are broken on purpose"
  bash tests/faults_have_teeth.sh
fi

if [ -z "$filter" ]; then
  say "Documentation examples"
  cargo test --workspace --doc --quiet
fi

say "Skipped"
if [ "${#skipped[@]}" = 0 ]; then echo "nothing"; else printf '%s\n' "${skipped[@]}"; fi
say "All of it passed"
