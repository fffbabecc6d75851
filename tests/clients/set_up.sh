#!/usr/bin/env bash
# Sets up foreign clients below the build's folder: Python with grpcio, and buf. Done once; what cannot be had is named and
# left out, and its tests then say 'skipped'.
#
#   bash tests/clients/set_up.sh FOLDER
set -uo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
to="${1:?name the folder}"
mkdir -p "$to"
same() { [ -f "$to/$1" ] && cmp -s "$here/$1" "$to/$1"; }

if ! same requirements.txt; then
  rm -rf "$to/python" "$to/requirements.txt"
  if python3 -m venv "$to/python" >/dev/null 2>&1 &&
    "$to/python/bin/pip" install --quiet --disable-pip-version-check -r "$here/requirements.txt" >/dev/null 2>&1; then
    cp "$here/requirements.txt" "$to/"
  else
    rm -rf "$to/python"
    echo "Python with grpcio (python3-venv and a package index)"
  fi
fi

if ! same package.json; then
  rm -rf "$to/node_modules" "$to/package.json"
  if command -v npm >/dev/null 2>&1 && cp "$here/package.json" "$to/" &&
    npm install --prefix "$to" --no-audit --no-fund --silent >/dev/null 2>&1 &&
    "$to/node_modules/.bin/buf" --version >/dev/null 2>&1; then
    :
  else
    rm -rf "$to/node_modules" "$to/package.json"
    echo "buf (npm package @bufbuild/buf)"
  fi
fi
