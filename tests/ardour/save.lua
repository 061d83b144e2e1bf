-- A session of one MIDI track with Figwort on it, which takes its state from a preset; saved and closed. Run by
-- reopen.sh.
local place = os.getenv("FIGWORT_PLACE")
assert(AudioEngine:set_backend("JACK", "ardour", ""), "no JACK")
local s = create_session(place .. "/reopened", "reopened", 48000)
assert(s, "no session")
local midi = ARDOUR.ChanCount(ARDOUR.DataType("midi"), 1)
local list = s:new_midi_track(midi, midi, false, ARDOUR.PluginInfo(), nil, nil, 1, "figwort",
	ARDOUR.PresentationInfo.max_order, ARDOUR.TrackMode.Normal, true)
-- "FigwortPianist01"
local p = ARDOUR.LuaAPI.new_plugin(s, "466967776F72745069616E6973743031", ARDOUR.PluginType.VST3, "")
assert(not p:isnil(), "Figwort is not in the plugin cache")
list:front():add_processor_by_index(p, 0, nil, true)
local plugin = p:to_insert():plugin(0)
local preset = plugin:preset_by_label("tune")
assert(preset and preset.valid, "the preset is not found")
assert(plugin:load_preset(preset), "the preset is refused")
sleep(1)
s:save_state("", false, false, false, false, false)
print("saved")
s:close()
quit()
