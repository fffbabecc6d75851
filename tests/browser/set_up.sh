#!/usr/bin/env bash
# Sets up axe-core, which holds pages against the Web Content Accessibility Guidelines, below the build's folder. Done once;
# where it cannot be had its name is said, and the tests then look at the pages without it and say 'skipped'.
#
#   bash tests/browser/set_up.sh FOLDER
set -uo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
to="${1:?name the folder}"
mkdir -p "$to"
if [ -f "$to/package.json" ] && cmp -s "$here/package.json" "$to/package.json"; then exit 0; fi
rm -rf "$to/node_modules" "$to/package.json" "$to/package-lock.json"
if command -v npm >/dev/null 2>&1 && cp "$here/package.json" "$to/" &&
  npm install --prefix "$to" --no-audit --no-fund --ignore-scripts --silent >/dev/null 2>&1 &&
  [ -s "$to/node_modules/axe-core/axe.min.js" ]; then
  exit 0
fi
rm -rf "$to/node_modules" "$to/package.json"
echo "axe-core (npm package axe-core)"
