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
-- Once a second until the player takes the transport away and ends this process: where the host is, and how far
-- ahead of what is heard it tells its plugins to be.
for second = 0, 400 do
	local file = assert(io.open(place .. "/host.part", "w"))
	file:write(string.format("%d %d %s\n", s:worst_output_latency(), s:transport_sample(),
		s:transport_state_rolling() and "rolling" or "standing"))
	file:close()
	os.rename(place .. "/host.part", place .. "/host.txt")
	if second == 0 then
		print("ready")
		io.stdout:flush()
	end
	sleep(1)
end
s:close()
quit()
