#!/bin/bash
# Has Qtractor's scanner, a CLAP host that is not ours, open Figwort and tell what it found.
#
# Usage:  tests/hosts/clap_scan.sh target/bundled/Figwort.clap
# Needs: Debian's qtractor. It starts no window and needs no display.
set -eu
bundle=$(realpath "$1")
export HOME; HOME=$(mktemp -d)
trap 'rm -rf "$HOME"' EXIT
scanner=$(ls /usr/lib/*/qtractor/qtractor_plugin_scan /usr/lib/qtractor/qtractor_plugin_scan 2>/dev/null | head -1)
[ -n "$scanner" ] || { echo "qtractor_plugin_scan is missing: apt-get install qtractor"; exit 1; }
found=$(echo "CLAP:$bundle" | timeout 60 "$scanner")
echo "$found"
# Format, name, audio in:out, MIDI in:out, parameters in:out, abilities, file, index, id.
case "$found" in
"CLAP|Figwort|0:2|1:1|"*GUI*"|$bundle|0|"*) echo "passed" ;;
*) echo "FAILED: not what Figwort has (0 audio in, 2 out; MIDI in and out; an editor)"; exit 1 ;;
esac
