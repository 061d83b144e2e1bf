-- A session of one MIDI track with Figwort on it, that follows JACK's transport. Run by live.sh.
local place = os.getenv("FIGWORT_PLACE")
assert(AudioEngine:set_backend("JACK", "ardour", ""), "no JACK")
local s = create_session(place .. "/session", "session", 48000)
assert(s, "no session")
local midi = ARDOUR.ChanCount(ARDOUR.DataType("midi"), 1)
local list = s:new_midi_track(midi, midi, false, ARDOUR.PluginInfo(), nil, nil, 1, "figwort",
	ARDOUR.PresentationInfo.max_order, ARDOUR.TrackMode.Normal, true)
local track = list:front()
-- "FigwortPianist01"
local p = ARDOUR.LuaAPI.new_plugin(s, "466967776F72745069616E6973743031", ARDOUR.PluginType.VST3, "")
assert(not p:isnil(), "Figwort is not in the plugin cache")
track:add_processor_by_index(p, 0, nil, true)
track:monitoring_control():set_value(1, PBD.GroupControlDisposition.NoGroup)
s:cfg():set_external_sync(true)
print("ready")
-- Until the player takes the transport away and ends this process.
for _ = 1, 400 do sleep(1) end
s:close()
quit()
