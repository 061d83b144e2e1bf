#!/bin/bash
# Saves an Ardour session whose Figwort holds a sheet, a manner and a window size, opens it again in another process,
# renders it, and compares every note of the rendering with what `figwort arrange` plays of the sheet.
#
# Usage, from the repository's top:  tests/ardour/reopen.sh VST3-BUNDLE FIGWORT-PROGRAM
# Needs what live.sh needs. Not part of the automatic tests. The renderer runs faster than real time.
source "$(dirname "$(realpath "$0")")/house.sh" "$@"

# The tune at the host's usual tempo, in a preset as VST3 has them, and what is expected of it.
sed 's/^Q:.*/Q:1\/4=120/' "$top/presets/songs/lamps-along-the-landing.abc" >tune.abc
"$figwort" arrange tune.abc -o arranged.mid --manner rippling
presets="$HOME/.vst3/presets/Figwort/Figwort"
mkdir -p "$presets"
"$python" "$here/reopen.py" preset tune.abc "$presets/tune.vstpreset"

for attempt in 1 2 3 4 5; do
    rm -rf reopened ready rendered.json
    start_jack 3072
    if timeout 120 $first ardour7-lua "$here/save.lua" >save.log 2>&1 && cp reopened/reopened.ardour first.ardour; then
        timeout 240 $first ardour7-lua "$here/render.lua" >render.log 2>&1 &
        host=$!
        $first "$python" "$here/reopen.py" record rendered.json && wait $host && break
    fi
    echo "attempt $attempt failed; see save.log, failed-$attempt.log and jackd.log"
    cp render.log "failed-$attempt.log" 2>/dev/null || true
    end_both
done
"$python" "$here/reopen.py" compare arranged.mid rendered.json first.ardour reopened/reopened.ardour
