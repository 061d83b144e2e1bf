#!/bin/bash
# Saves an Ardour session whose Figwort holds a sheet, a manner and a window size, opens it again in another process,
# renders it, and compares every note of the rendering with what `figwort arrange` plays of the sheet.
#
# Usage, from the repository's top:  tests/ardour/reopen.sh VST3-BUNDLE FIGWORT-PROGRAM
# Needs what live.sh needs. Not part of the automatic tests. The renderer runs faster than real time.
set -eu
bundle=$(realpath "$1")
figwort=$(realpath "$2")
here=$(dirname "$(realpath "$0")")
top=$(realpath "$here/../..")
place="${FIGWORT_ARDOUR:-$top/target/ardour}"
python="${PYTHON:-python3}"
mkdir -p "$place/house/.vst3"
place=$(realpath "$place")
cd "$place"
export HOME="$place/house" JACK_DEFAULT_SERVER=figwort JACK_NO_AUDIO_RESERVATION=1
export FIGWORT_PLACE="$place"

# The tune at the host's usual tempo, in a preset as VST3 has them, and what is expected of it.
sed 's/^Q:.*/Q:1\/4=120/' "$top/presets/songs/lamps-along-the-landing.abc" >tune.abc
"$figwort" arrange tune.abc -o arranged.mid --manner rippling
presets="$HOME/.vst3/presets/Figwort/Figwort"
mkdir -p "$presets"
"$python" "$here/reopen.py" preset tune.abc "$presets/tune.vstpreset"

rm -rf "$HOME/.vst3/Figwort.vst3"
cp -r "$bundle" "$HOME/.vst3/Figwort.vst3"
LD_LIBRARY_PATH=/usr/lib/ardour7 /usr/lib/ardour7/ardour-vst3-scanner -f "$HOME/.vst3/Figwort.vst3" >scan.log 2>&1
touch -d "+1 hour" "$HOME"/.cache/ardour7/vst/*.v3i

first="nice -n -10"
$first true 2>/dev/null || first=
host= jack=
trap 'kill $host $jack 2>/dev/null || true' EXIT
# JACK's server sometimes drops its clients as they come; then all begins anew.
for attempt in 1 2 3 4 5; do
    rm -rf reopened ready rendered.json
    $first jackd -n figwort -r -t 10000 -d dummy -r 48000 -p 3072 >jackd.log 2>&1 &
    jack=$!
    sleep 2
    if timeout 120 $first ardour7-lua "$here/save.lua" >save.log 2>&1 && cp reopened/reopened.ardour first.ardour; then
        timeout 240 $first ardour7-lua "$here/render.lua" >render.log 2>&1 &
        host=$!
        $first "$python" "$here/reopen.py" record rendered.json && wait $host && break
    fi
    echo "attempt $attempt failed; see save.log, failed-$attempt.log and jackd.log"
    cp render.log "failed-$attempt.log" 2>/dev/null || true
    kill $host $jack 2>/dev/null || true
    wait $host $jack 2>/dev/null || true
done
"$python" "$here/reopen.py" compare arranged.mid rendered.json first.ardour reopened/reopened.ardour
