"""Figwort's VST3 in two hosts that are not ours: DawDreamer and Pedalboard (both on JUCE, each its own way).

    python3 -m venv v && v/bin/pip install dawdreamer pedalboard numpy mido
    v/bin/python tests/hosts/vst3_hosts.py target/bundled/Figwort.vst3

Neither host hands on what a plugin puts out as MIDI, so what is played is heard through the audition piano:
the accompaniment is what is there with bypass off and not with bypass on. Needs a release bundle, as Pedalboard
asks for the words of each of the 2100 parameters a thousand times. Ends with a count; status 1 if anything failed.
"""

import os
import sys
import tempfile
import time

RATE = 48_000
SECONDS = 10.0
TEMPO = 100.0
# Chords and melody of four bars, as in tests/src/checks.rs: key, velocity, beat, length in beats.
CHORDS = [[48, 52, 55], [45, 48, 52], [41, 45, 48], [43, 47, 53]]
TUNE = [(key, 70, bar * 4.0, 3.9) for bar, chord in enumerate(CHORDS) for key in chord] + [
    (67, 96, 0, 1), (69, 96, 1, 1), (71, 96, 2, 1), (72, 96, 3, 1), (76, 96, 4, 3.9),
    (74, 96, 8, 0.5), (72, 96, 8.5, 0.5), (69, 96, 9, 1), (72, 96, 10, 1.9), (71, 96, 12, 3.8),
]
done = {"passed": 0, "failed": 0}


def check(name, good, more=""):
    done["passed" if good else "failed"] += 1
    print(f"{'ok  ' if good else 'FAIL'} {name} {more}")


def seconds(beats):
    return beats * 60.0 / TEMPO


def loud(audio):
    import numpy

    return float(numpy.abs(audio).max()) if audio.size else 0.0


def same(one, other, near=1e-4):
    """Equal but for rounding, over what both have."""
    import numpy

    length = min(one.shape[1], other.shape[1])
    return float(numpy.abs(one[:, :length] - other[:, :length]).max()) <= near


def dawdreamer(path):
    import dawdreamer as daw

    def fresh(block=512, rate=RATE):
        engine = daw.RenderEngine(rate, block)
        engine.set_bpm(TEMPO)
        plugin = engine.make_plugin_processor("figwort", path)
        engine.load_graph([(plugin, [])])
        return engine, plugin

    def names(plugin):
        return {p["name"]: p["index"] for p in plugin.get_parameters_description()}

    def play(engine, plugin, **wanted):
        index = names(plugin)
        for name, value in {"Audition piano": 0.9, **wanted}.items():
            plugin.set_parameter(index[name.replace("_", " ")], value)
        plugin.clear_midi()
        for key, velocity, at, length in TUNE:
            plugin.add_midi_note(key, velocity, seconds(at), seconds(length * 0.95))
        engine.render(SECONDS)
        return engine.get_audio()

    begun = time.time()
    engine, plugin = fresh()
    print(f"     DawDreamer {daw.__version__ if hasattr(daw, '__version__') else ''}: loaded in {time.time() - begun:.2f} s")
    check("channels", (plugin.get_num_input_channels(), plugin.get_num_output_channels()) == (0, 2))
    own = [p for p in plugin.get_parameters_description() if not p["name"].startswith("MIDI Ch.")]
    check("parameters", len(own) >= 26 and own[0]["name"] == "Bypass", f"{len(own)} and controllers")
    bad = [p["name"] for p in own if not p["text"] or not p["min"] or not p["max"]]
    check("parameters have words", not bad, str(bad) if bad else "")
    wrong = []
    for p in own:
        for step in range(5):
            plugin.set_parameter(p["index"], step / 4)
            back = plugin.get_parameter(p["index"])
            steps = p["numSteps"]
            room = 1e-4 if steps > 1e6 else 1.0 / max(steps - 1, 1)
            if abs(back - step / 4) > room:
                wrong.append((p["name"], step / 4, back))
    check("parameters keep what they are set to", not wrong, str(wrong[:4]) if wrong else "")

    engine, plugin = fresh()
    engine.render(1.0)
    check("silent until asked", loud(engine.get_audio()) == 0.0)
    full = play(engine, plugin)
    engine, plugin = fresh()
    bypassed = play(engine, plugin, Bypass=1.0)
    check("plays", 0.01 < loud(full) < 1.0, f"peak {loud(full):.3f}")
    check("bypass plays the keys alone", loud(bypassed) > 0.01 and not same(full, bypassed, 0.01))
    again = play(*fresh())
    check("the same input gives the same audio", same(full, again))
    for block in (1, 64, 100, 4096):
        check(f"blocks of {block}", same(full, play(*fresh(block)), 2e-3))
    for rate in (22_050, 44_100, 96_000, 192_000):
        audio = play(*fresh(512, rate))
        check(f"{rate} Hz", 0.01 < loud(audio) < 1.0 and audio.shape[1] >= rate * (SECONDS - 1), f"peak {loud(audio):.3f}")
    plain = play(*fresh(), Elaboration=0.0)
    check("elaboration changes the music", not same(full, plain, 0.01))

    with tempfile.TemporaryDirectory() as folder:
        state = os.path.join(folder, "state")
        engine, plugin = fresh()
        index = names(plugin)
        plugin.set_parameter(index["Elaboration"], 0.0)
        plugin.set_parameter(index["Split key"], 0.4)
        # The host hands parameters over with the next block, and shows what it set itself until then.
        engine.render(0.1)
        plugin.save_state(state)
        kept = [plugin.get_parameter_text(p["index"]) for p in own]
        engine, plugin = fresh()
        usual = [plugin.get_parameter_text(p["index"]) for p in own]
        plugin.load_state(state)
        found = [plugin.get_parameter_text(p["index"]) for p in own]
        check("state in another instance", found == kept != usual)
        with open(state, "wb") as file:
            file.write(os.urandom(4096))
        try:
            plugin.load_state(state)
        except RuntimeError:
            pass
        check("a state of noise does no harm", loud(play(engine, plugin)) > 0.01)
    # Ten engines at once, rendered in turn.
    crowd = [fresh() for _ in range(10)]
    check("ten at once", all(same(full, play(*each)) for each in crowd))


def pedalboard(path):
    import mido
    import pedalboard as board

    def fresh():
        return board.load_plugin(path)

    def play(plugin, block=512):
        plugin.reset()
        events = []
        for key, velocity, at, length in TUNE:
            events.append((seconds(at), 1, mido.Message("note_on", note=key, velocity=velocity, time=seconds(at))))
            end = seconds(at + length * 0.95)
            events.append((end, 0, mido.Message("note_off", note=key, time=end)))
        events.sort(key=lambda event: event[:2])
        messages = [message for _, _, message in events]
        return plugin(messages, duration=SECONDS, sample_rate=RATE, buffer_size=block, reset=True)

    begun = time.time()
    plugin = fresh()
    print(f"     Pedalboard {board.__version__}: loaded in {time.time() - begun:.2f} s")
    check("an instrument", plugin.is_instrument and not plugin.is_effect, f"{plugin.category} {plugin.version}")
    own = {key: value for key, value in plugin.parameters.items() if not key.startswith("midi_ch")}
    check("parameters", len(own) >= 26, f"{len(own)} and controllers")
    check("silent until asked", loud(play(plugin)) == 0.0)
    plugin.parameters["audition_piano"].raw_value = 0.9
    full = play(plugin)
    # Not before: the host hands parameters over with the next block.
    state = plugin.raw_state
    check("plays", 0.01 < loud(full) < 1.0, f"peak {loud(full):.3f}")
    check("the same input gives the same audio", same(full, play(plugin)))
    check("blocks of 64", same(full, play(plugin, 64), 2e-3))
    plugin.parameters["bypass"].raw_value = 1.0
    check("bypass plays the keys alone", not same(full, play(plugin), 0.01))
    plugin.raw_state = state
    check("state comes back", plugin.raw_state == state and plugin.parameters["bypass"].raw_value < 0.5)
    check("and the music with it", same(full, play(plugin)))


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    bundle = os.path.abspath(sys.argv[1])
    for host in (dawdreamer, pedalboard):
        if len(sys.argv) > 2 and host.__name__ not in sys.argv[2:]:
            continue
        try:
            host(bundle)
        except ImportError as error:
            print(f"SKIP {host.__name__}: {error}")
    print(f"{done['passed']} passed, {done['failed']} failed")
    sys.exit(1 if done["failed"] or not done["passed"] else 0)
