#!/bin/sh
# packages: ui/node_modules as package-lock.json has it; quick when it is already. Two builds at once wait for each other.
set -eu
cd "$(dirname "$0")"
want=$(sha256sum package-lock.json package.json | sha256sum)
[ "$(cat node_modules/.mendwright-lock 2>/dev/null || true)" = "$want" ] && exit 0
tries=0
until mkdir .packages-lock 2>/dev/null; do
    tries=$((tries + 1))
    [ "$tries" -lt 300 ] || { echo "ui/packages.sh: another install holds ui/.packages-lock; remove that folder when none runs" >&2; exit 1; }
    sleep 1
done
log=$(mktemp)
trap 'rmdir .packages-lock; rm -f "$log"' EXIT
[ "$(cat node_modules/.mendwright-lock 2>/dev/null || true)" = "$want" ] && exit 0
if ! npm ci --no-audit --no-fund >"$log" 2>&1; then
    cat "$log" >&2
    echo "ui/packages.sh: npm could not install the pages' build packages (its own words are above); they come from the npm registry" >&2
    echo "ui/packages.sh: without a network, build the program alone: make build PAGES=false" >&2
    exit 1
fi
echo "$want" >node_modules/.mendwright-lock
