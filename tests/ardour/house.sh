# What both runs in Ardour prepare: a home of its own with the plugin in it, and a JACK server without a sound card.
#
# Sourced, not run, with the bundle and the program `figwort` as arguments. Leaves the shell in $place (of
# FIGWORT_ARDOUR, else target/ardour), where all that is written stays.
set -eu
bundle=$(realpath "$1")
figwort=$(realpath "$2")
here=$(dirname "$(realpath "${BASH_SOURCE[0]}")")
top=$(realpath "$here/../..")
place="${FIGWORT_ARDOUR:-$top/target/ardour}"
python="${PYTHON:-python3}"
mkdir -p "$place/house/.vst3"
place=$(realpath "$place")
cd "$place"
export HOME="$place/house" JACK_DEFAULT_SERVER=figwort JACK_NO_AUDIO_RESERVATION=1
export FIGWORT_PLACE="$place"

rm -rf "$HOME/.vst3/Figwort.vst3"
cp -r "$bundle" "$HOME/.vst3/Figwort.vst3"
scanner=$(ls /usr/lib/ardour7/ardour-vst3-scanner /usr/lib/ardour7/*vst3* 2>/dev/null | head -1)
[ -n "$scanner" ] || { echo "Ardour 7's scanner is missing: apt-get install ardour"; exit 1; }
LD_LIBRARY_PATH=/usr/lib/ardour7 "$scanner" -f "$HOME/.vst3/Figwort.vst3" >scan.log 2>&1
# The cache must be newer than the plugin, or the headless session does not see it.
touch -d "+1 hour" "$HOME"/.cache/ardour7/vst/*.v3i

# Before others on a busy machine, where that is allowed.
first="nice -n -10"
$first true 2>/dev/null || first=
host= jack=
trap 'kill $host $jack 2>/dev/null || true' EXIT

# A server at $1 frames a period, without a sound card.
start_jack() {
    $first jackd -n figwort -r -t 10000 -d dummy -r 48000 -p "$1" >jackd.log 2>&1 &
    jack=$!
    sleep 2
}

# Ends host and server, before all begins anew: JACK's server sometimes drops its clients as they come.
end_both() {
    kill $host $jack 2>/dev/null || true
    wait $host $jack 2>/dev/null || true
}
