#!/usr/bin/env bash
# Starts a PostgreSQL of the tests' own in a temporary folder and writes the folder of its socket; as the user postgres
# where root asks, who may not run it. Tests start one each where this did not.
#
#   bash tests/postgres/set_up.sh
#   bash tests/postgres/set_up.sh --stop FOLDER
set -euo pipefail
programs="$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -1)"
[ -n "$programs" ] || exit 1
as_owner() {
  if [ "$(id -u)" = 0 ]; then setpriv --reuid=postgres --regid=postgres --clear-groups "$@"; else "$@"; fi
}
if [ "${1:-}" = --stop ]; then
  cd "${2:?name the folder}"
  as_owner "$programs/pg_ctl" -D "$2/data" -m immediate -s stop || true
  cd / && rm -rf "$2"
  exit 0
fi
folder="$(mktemp -d -t pg.XXXXXX)"
if [ "$(id -u)" = 0 ]; then chown postgres: "$folder"; fi
cd "$folder"
as_owner "$programs/initdb" -A trust -U standpipe --no-sync -E UTF8 --locale=C -D "$folder/data" >/dev/null
as_owner "$programs/pg_ctl" -D "$folder/data" -l "$folder/log" -s -w \
  -o "-p 5432 -k '$folder' -c listen_addresses='' -c max_connections=200" start >/dev/null
echo "$folder"
