#!/bin/bash
# Plays the demonstration take live into Figwort in a real host (Ardour 7, headless) over a dummy JACK server
# and compares every note that comes out with what `figwort follow` plays of the same take.
#
# Usage, from the repository's top:  tests/ardour/live.sh VST3-BUNDLE FIGWORT-PROGRAM
#   e.g.  tests/ardour/live.sh target/bundled/Figwort.vst3 target/release/figwort
# Needs: Debian's ardour and jackd2, and python3 with the packages JACK-Client and mido.
# Not part of the automatic tests: it takes two minutes of real time and a machine that keeps up.
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

# The take at the host's usual tempo, and what is expected of it.
"$python" "$here/live.py" prepare "$top/presets/songs/lamps-along-the-landing.take.mid" take.mid
"$figwort" follow take.mid --split C4 -o expected.mid

rm -rf "$HOME/.vst3/Figwort.vst3" session
cp -r "$bundle" "$HOME/.vst3/Figwort.vst3"
scanner=$(ls /usr/lib/ardour7/ardour-vst3-scanner /usr/lib/ardour7/*vst3* 2>/dev/null | head -1)
LD_LIBRARY_PATH=/usr/lib/ardour7 "$scanner" -f "$HOME/.vst3/Figwort.vst3" >scan.log 2>&1
# The cache must be newer than the plugin, or the headless session does not see it.
touch -d "+1 hour" "$HOME"/.cache/ardour7/vst/*.v3i

jackd -n figwort -r -t 10000 -d dummy -r 48000 -p "${JACK_PERIOD:-1024}" >jackd.log 2>&1 &
jack=$!
trap 'kill $host $jack 2>/dev/null || true' EXIT
sleep 2
ardour7-lua "$here/session.lua" >ardour.log 2>&1 &
host=$!
"$python" "$here/live.py" play take.mid heard.json
"$python" "$here/live.py" compare expected.mid heard.json
