-- Opens the session that save.lua saved, waits for the recorder, renders it, and saves it again. Run by reopen.sh.
local place = os.getenv("FIGWORT_PLACE")
assert(AudioEngine:set_backend("JACK", "ardour", ""), "no JACK")
local s = load_session(place .. "/reopened", "reopened")
assert(s, "the session does not open")
print("opened")
io.stdout:flush()
local ready = nil
for _ = 1, 120 do
	ready = io.open(place .. "/ready")
	if ready then break end
	sleep(1)
end
assert(ready, "nobody records")
local e = s:simple_export()
e:set_name("rendered")
e:set_folder(place .. "/reopened")
e:set_range(0, 48000 * tonumber(ready:read("l")))
-- Ardour's own preset for WAV.
assert(e:set_preset("75969a1c-3133-4694-864b-a1fa50e43348"), "no export preset")
print("rendered", e:run_export())
s:save_state("", false, false, false, false, false)
s:close()
quit()
