#!/bin/sh
# build: compiles the core and its flat exports into one WebAssembly module without imports.
# usage: build.sh OUT.wasm DEPFILE OBJECT_FOLDER SRC_ROOT EXPORTS.txt SOURCE...
# Debian's wasi-libc gives string.h, math.h and memcpy and friends; nothing of WASI itself is linked in (no start
# files, no entry), so the module is a library of functions. The stack lies below the data: an overflow traps.
set -eu
out=$1 depfile=$2 objects=$3 root=$4 exports=$5
shift 5
mkdir -p "$objects"

target='--target=wasm32-wasi --sysroot=/usr'
export CFLAGS_WASM="$target -std=c17 -O2 -ffp-contract=off -fno-math-errno -fvisibility=hidden
    -Wall -Wextra -Werror -I$root"
# shellcheck disable=SC2016,SC2086  # the inner shell expands, one word a flag
for source in "$@"; do
    printf '%s\0%s\0' "$source" "$objects/$(basename "$source" .c).o"
done | xargs -0 -n 2 -P "$(nproc)" sh -c 'exec clang $CFLAGS_WASM -MD -MF "$2.d" -c "$1" -o "$2"' -

# One depfile for the one output: the headers that any object saw.
link= headers=
for source in "$@"; do
    object=$objects/$(basename "$source" .c).o
    link="$link $object"
    headers="$headers $(sed -e 's/^[^:]*\.o://' -e 's/\\$//' "$object.d" | tr '\n' ' ')"
done
echo "$out: $headers" >"$depfile"

# shellcheck disable=SC2046,SC2086  # one word a name
clang $target -nostartfiles -O2 -Wl,--no-entry -Wl,--stack-first -Wl,-z,stack-size=262144 -Wl,--gc-sections \
    -Wl,--strip-all $(sed -n 's/^\([a-z][a-z0-9_]*\).*/-Wl,--export=\1/p' "$exports") $link -o "$out"
