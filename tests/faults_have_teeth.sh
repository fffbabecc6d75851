#!/usr/bin/env bash
# Shows that the fault tests have teeth: builds the server so that it can be broken on purpose, and runs the tests
# against it, once whole (green) and once with each fault (red).
#
#   bash tests/faults_have_teeth.sh
set -euo pipefail
cd "$(dirname "$0")/.."

# A folder of its own, so that no other test ever meets this server.
built="${CARGO_TARGET_DIR:-target}/broken"
cargo build -p standpipe-server --features broken --target-dir "$built" --quiet
STANDPIPE_TEST_SERVER="$(realpath "$built")/debug/standpipe-server"
export STANDPIPE_TEST_SERVER STANDPIPE_TEST_CAMPAIGN=daily RUST_BACKTRACE=0
log="$(mktemp)"
trap 'rm -f "$log"' EXIT

outcome() { # fault, test
  if STANDPIPE_FAULT="$1" cargo test -p standpipe-tests --test main --quiet -- "$2" --nocapture >"$log" 2>&1; then
    echo green
  elif grep -q "test result: FAILED" "$log"; then
    echo red
  else
    cat "$log" >&2
    echo "neither"
  fi
}

failed=0
expect() { # colour, fault, test
  local got
  got="$(outcome "$2" "$3")"
  printf '%-26s %-22s %s\n' "${2:-no fault}" "$3" "$got"
  if [ "$got" != "$1" ]; then
    echo "tests/faults_have_teeth.sh: $3 with '${2:-no fault}' is $got and must be $1" >&2
    tail -n 40 "$log" >&2
    failed=1
  elif [ "$got" = red ]; then
    # Why it is red, so that it can be seen that it is red for the right reason.
    { grep -m 1 -A 2 "panicked at" "$log" || true; } | tail -n +2 | cut -c 1-180 | sed 's/^/    /'
  fi
}

expect green "" faults::server_kills
expect red ack-before-commit faults::server_kills
expect red duplicate-check-dropped faults::server_kills
expect red leaf-skipped faults::server_kills
if command -v strace >/dev/null 2>&1; then
  expect green "" faults::syncs
  expect red synchronous-normal faults::syncs
else
  echo "skipped: synchronous-normal (needs strace)"
fi
exit "$failed"
