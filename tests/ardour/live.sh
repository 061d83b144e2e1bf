#!/bin/bash
# Plays the demonstration take live into Figwort in a real host (Ardour 7, headless) over a dummy JACK server
# and compares every note that comes out with what `figwort follow` plays of the same take.
#
# Usage, from the repository's top:  tests/ardour/live.sh VST3-BUNDLE FIGWORT-PROGRAM
#   e.g.  tests/ardour/live.sh target/bundled/Figwort.vst3 target/release/figwort
# Needs: Debian's ardour and jackd2, and python3 with the packages JACK-Client and mido.
# Not part of the automatic tests: it takes two minutes of real time and a machine that keeps up.
source "$(dirname "$(realpath "$0")")/house.sh" "$@"

# The take at the host's usual tempo, and what is expected of it.
"$python" "$here/live.py" prepare "$top/presets/songs/lamps-along-the-landing.take.mid" take.mid
"$figwort" follow take.mid --split C4 -o expected.mid

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

for attempt in 1 2 3 4 5; do
    rm -rf session host.txt heard.json
    start_jack "${JACK_PERIOD:-3072}"
    $first ardour7-lua "$here/session.lua" >ardour.log 2>&1 &
    host=$!
    for _ in $(seq 120); do grep -q ready ardour.log && break; sleep 0.5; done
    if grep -q "JACK HALTED" ardour.log || ! $first "$python" "$here/live.py" play take.mid heard.json; then
        echo "attempt $attempt failed; see ardour.log and jackd.log"
        end_both
        continue
    fi
    break
done
"$python" "$here/live.py" compare expected.mid heard.json
