#!/usr/bin/env bash
# A PostgreSQL of one's own for a queue: in a folder, on a port of this machine.
#   bash cmd/postgres.sh start DIR PORT    makes the cluster in DIR if need be, starts it,
#                                          makes the role and the database swathe, and
#                                          prints the address for --queue
#   bash cmd/postgres.sh stop DIR          stops it; the data stay
# It listens on 127.0.0.1 alone and trusts everybody on this machine: for trials and
# tests. For a queue that other machines reach see: swathe help queue
set -euo pipefail
. "$(dirname "$0")/cvenv.sh"
usage() { sed -n '2,8s/^# \{0,1\}//p' "$0" >&2; exit 2; }
[ $# -ge 2 ] || usage
need_packages postgresql
bin=$(ls -d /usr/lib/postgresql/*/bin | sort -V | tail -1)
dir=$2
# The server refuses to run as root.
as() { if [ "$(id -u)" = 0 ]; then setpriv --reuid=postgres --regid=postgres --clear-groups env HOME=/tmp "$@"; else "$@"; fi; }
case $1 in
  start)
    [ $# -eq 3 ] || usage
    mkdir -p "$dir"
    [ "$(id -u)" != 0 ] || chown postgres: "$dir"
    dir=$(cd "$dir" && pwd)
    cd /
    [ -e "$dir/data/PG_VERSION" ] || as "$bin/initdb" -D "$dir/data" -U swathe -A trust -E UTF8 --no-sync >"$dir.initdb.log" 2>&1 || { cat "$dir.initdb.log" >&2; exit 1; }
    rm -f "$dir.initdb.log"
    as "$bin/pg_ctl" -D "$dir/data" -l "$dir/server.log" -w -s -o "-c listen_addresses=127.0.0.1 -p $3 -k $dir" start >&2
    as "$bin/psql" -h 127.0.0.1 -p "$3" -U swathe -d postgres -qtAc "select 1 from pg_database where datname='swathe'" | grep -q 1 ||
      as "$bin/createdb" -h 127.0.0.1 -p "$3" -U swathe swathe
    echo "postgres://swathe@127.0.0.1:$3/swathe"
    ;;
  stop)
    dir=$(cd "$dir" && pwd)
    cd /
    as "$bin/pg_ctl" -D "$dir/data" -m fast -w -s stop >&2
    ;;
  *) usage ;;
esac
