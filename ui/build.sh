#!/bin/sh
# build: the pages, from their sources and the core. usage: build.sh STAMP DEPFILE CORE.wasm SETS.json
# Writes the Bench beside STAMP into the folder pages/, the Desk into desk/, and STAMP and DEPFILE last. The npm packages come from the registry that
# npm is set up for, by the lock file, once; they lie in ui/node_modules and are only built with, never shipped.
set -eu
target=$1 stamp=$(realpath "$1") depfile=$(realpath "$2") core=$(realpath "$3") sets=$(realpath "$4")
here=$(cd "$(dirname "$0")" && pwd)
cd "$here"
"$here/packages.sh"
log=$(mktemp)
trap 'rm -f "$log"' EXIT
OUT=$(dirname "$stamp")/pages CORE=$core SETS=$sets
export OUT CORE SETS
node node_modules/vite/bin/vite.js build --logLevel warn >"$log" 2>&1 || { cat "$log" >&2; exit 1; }
OUT=$(dirname "$stamp")/desk node node_modules/vite/bin/vite.js build --mode desk --logLevel warn >"$log" 2>&1 || { cat "$log" >&2; exit 1; }
# Every source and every folder of sources, so that a new file counts too.
echo "$target: $(find "$here/src" "$here/static" "$here/desk" "$here/index.html" "$here/vite.config.ts" "$here/package-lock.json" | tr '\n' ' ')" >"$depfile"
date >"$stamp"
