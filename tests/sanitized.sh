#!/bin/bash
# Runs what a sanitizer can find something in, with the standard library built under it as well.
#
#   thread    all that meets between audio thread, editor, project and soundfont reader; the soak, with its reader of
#             snapshots, half a minute of time a manner; the plugin in the CLAP and the VST3 host
#   address   the same, and the crates that read and play
#
# Usage, from the repository's top:  tests/sanitized.sh thread|address
# Needs: a nightly toolchain with rust-src. Builds in CARGO_TARGET_DIR, else in target/sanitized. Not part of the
# automatic tests: it builds everything anew and takes about half an hour on a small machine.
set -eu
case "${1:-}" in thread | address) ;; *) echo "which one? thread or address" >&2; exit 2 ;; esac
cd "$(dirname "$(realpath "$0")")/.."
system=x86_64-unknown-linux-gnu
# The plugin finds the sanitizer in the program that loads it, which has to show its names for that.
export RUSTFLAGS="-Zsanitizer=$1 -Clink-arg=-rdynamic" CARGO_PROFILE_DEV_OPT_LEVEL="${CARGO_PROFILE_DEV_OPT_LEVEL:-1}"
export CARGO_TARGET_DIR; CARGO_TARGET_DIR=$(realpath -m "${CARGO_TARGET_DIR:-target/sanitized}")
folder="$CARGO_TARGET_DIR/$1"
mkdir -p "$folder/Figwort.vst3/Contents/x86_64-linux"
under() { cargo +nightly "$1" -Zbuild-std --target "$system" "${@:2}"; }

{
    under build -p figwort --lib
    library="$CARGO_TARGET_DIR/$system/debug/libfigwort.so"
    cp "$library" "$folder/Figwort.clap"
    cp "$library" "$folder/Figwort.vst3/Contents/x86_64-linux/Figwort.so"
    export FIGWORT_CLAP="$folder/Figwort.clap" FIGWORT_VST3="$folder/Figwort.vst3"
    under test -p figwort --lib
    under run -p tests --bin soak -- 0.5 || echo "error: the soak has faults"
    if [ "$1" = address ]; then
        under test -p figwort-engine -p figwort-sheet -p figwort-render -p figwort-preset
    fi
    under test -p tests --test clap --test vst3
} 2>&1 | tee "$folder/said.txt" | grep --line-buffered -v -E " WARN | INFO |^ +Compiling " || true
# The sanitizer ends a program that it finds something in; what is said last tells whether all came to its end.
if grep -E "WARNING: ThreadSanitizer|ERROR: (Address|Leak)Sanitizer|^error|test result: FAILED" "$folder/said.txt"; then
    echo "FAILED: see $folder/said.txt"
    exit 1
fi
[ "$(grep -c "test result: ok" "$folder/said.txt")" -ge 3 ] || { echo "FAILED: too few tests ran"; exit 1; }
echo "passed: $(grep -c "test result: ok" "$folder/said.txt") test programs without a finding"
