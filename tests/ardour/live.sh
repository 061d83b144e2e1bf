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

rm -rf "$HOME/.vst3/Figwort.vst3"
cp -r "$bundle" "$HOME/.vst3/Figwort.vst3"
scanner=$(ls /usr/lib/ardour7/ardour-vst3-scanner /usr/lib/ardour7/*vst3* 2>/dev/null | head -1)
LD_LIBRARY_PATH=/usr/lib/ardour7 "$scanner" -f "$HOME/.vst3/Figwort.vst3" >scan.log 2>&1
# Of its own accord the host keeps to MIDI clock, of which there is none here, and would stand still.
mkdir -p "$HOME/.config/ardour7"
cat >"$HOME/.config/ardour7/config" <<'END'
<?xml version="1.0" encoding="UTF-8"?>
<Ardour>
  <TransportMasters current="JACK Transport">
    <TransportMaster type="Engine" name="JACK Transport" removeable="0"/>
  </TransportMasters>
</Ardour>
END

# The cache must be newer than the plugin, or the headless session does not see it.
touch -d "+1 hour" "$HOME"/.cache/ardour7/vst/*.v3i

# Before others on a busy machine, where that is allowed.
first="nice -n -10"
$first true 2>/dev/null || first=
host= jack=
trap 'kill $host $jack 2>/dev/null || true' EXIT
# JACK's server sometimes drops its clients as they come; then all begins anew.
for attempt in 1 2 3 4 5; do
    rm -rf session host.txt heard.json
    $first jackd -n figwort -r -t 10000 -d dummy -r 48000 -p "${JACK_PERIOD:-3072}" >jackd.log 2>&1 &
    jack=$!
    sleep 2
    $first ardour7-lua "$here/session.lua" >ardour.log 2>&1 &
    host=$!
    for _ in $(seq 120); do grep -q ready ardour.log && break; sleep 0.5; done
    if grep -q "JACK HALTED" ardour.log || ! $first "$python" "$here/live.py" play take.mid heard.json; then
        echo "attempt $attempt failed; see ardour.log and jackd.log"
        kill $host $jack 2>/dev/null || true
        wait $host $jack 2>/dev/null || true
        continue
    fi
    break
done
"$python" "$here/live.py" compare expected.mid heard.json
