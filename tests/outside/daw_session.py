"""A session of Ardour (ardour.org, from Debian's packages), without its window: one
track of recorded chords with the VST3 on it, and a take of what comes out, recorded by
a second track while the transport rolls. The engine is Ardour's own without a device,
at twenty times the speed."""

import base64
import json
import os
import re
import shutil
import struct
import subprocess
from pathlib import Path

import mido

RATE = 48_000
ID = "53696E69737472614C65667448616E64"
PULSES = 1920  # of Ardour's, to a quarter note

ENGINE = """
local b = AudioEngine:set_backend("None (Dummy)", "", "")
b:set_device_name("Silence") b:set_driver("20x Speed")
b:set_sample_rate(48000) b:set_buffer_size(tonumber(os.getenv("BUFFER") or "1024"))
local dir, midi = os.getenv("DIR"), ARDOUR.ChanCount(ARDOUR.DataType("midi"), 1)
local function track(s, name)
  local last, normal = ARDOUR.PresentationInfo.max_order, ARDOUR.TrackMode.Normal
  local i = ARDOUR.PluginInfo()
  -- Version 8 asks for one more word.
  local ok, list = pcall(function()
    return s:new_midi_track(midi, midi, true, i, nil, nil, 1, name, last, normal, true) end)
  if not ok then
    list = s:new_midi_track(midi, midi, true, i, nil, nil, 1, name, last, normal, true, true) end
  return list:front()
end
"""

MAKE = ENGINE + """
local s = create_session(dir, "song", 48000)
track(s, "Chords")
s:save_state("")
close_session()
print("MADE")
"""

ADD = ENGINE + """
local s = load_session(dir, "song")
local r = s:route_by_name("Chords")
local p = ARDOUR.LuaAPI.new_plugin(s, "Sinistra", ARDOUR.PluginType.VST3, "")
if p:isnil() then print("NO PLUGIN") end
r:add_processor_by_index(p, -1, nil, true)
s:save_state("")
close_session()
print("ADDED")
"""

PLAY = ENGINE + """
local ui = ARDOUR.TransportRequestSource.TRS_UI
local s = load_session(dir, "song")
local r = s:route_by_name("Chords")
local t = track(s, "Take")
t:input():midi(0):disconnect_all()
t:input():midi(0):connect(r:output():midi(0):name())
t:rec_enable_control():set_value(1, PBD.GroupControlDisposition.NoGroup)
print("LATENCY", r:signal_latency())
local from = tonumber(os.getenv("FROM"))
s:request_locate(from, false, ARDOUR.LocateTransportDisposition.MustStop, ui)
sleep(1)
s:maybe_enable_record()
sleep(1)
s:request_roll(ui)
local function roll(to)
  for n = 1, 400 do
    if s:transport_sample() >= to then return end
    sleep(0.1)
  end
end
if os.getenv("REMOVE") ~= "" then
  roll(tonumber(os.getenv("REMOVE")))
  local n = 0
  while true do
    local p = r:nth_processor(n)
    if p:isnil() then break end
    if p:display_name() == "Sinistra" then r:remove_processor(p, nil, true) break end
    n = n + 1
  end
end
roll(tonumber(os.getenv("UNTIL")))
s:request_stop(false, false, ui)
sleep(2)
s:save_state("")
close_session()
print("PLAYED")
"""

REGION = (
    '<Region name="chords" muted="0" opaque="1" locked="0" video-locked="0" automatic="0" '
    'whole-file="0" import="0" external="0" sync-marked="0" left-of-split="0" '
    'right-of-split="0" hidden="0" position-locked="0" valid-transients="0" start="b0" '
    'length="b{0}@b0" sync-position="b0" ancestral-start="b0" ancestral-length="b{0}@b0" '
    'stretch="1" shift="1" layering-index="0" tags="" contents="0" first-edit="nothing" '
    'type="midi" source-0="900001" master-source-0="900001" id="900002"/>'
)


class Ardour:
    """The program, in a home folder of its own, with the VST3 where it looks for it."""

    def __init__(self, run, home, library):
        self.run_path, self.home = Path(run), Path(home)
        self.version = re.search(r"ardour(\d+)", self.run_path.name).group(1)
        inside = self.home / ".vst3/Sinistra.vst3/Contents/x86_64-linux"
        inside.mkdir(parents=True)
        copy = Path(shutil.copy(library, inside / "Sinistra.so"))
        os.utime(copy, (0, 1e9))  # what was scanned must be newer
        folder = f"/usr/lib/ardour{self.version}"
        self.env = {
            **os.environ,
            "HOME": str(self.home),
            "ARDOUR_DATA_PATH": f"/usr/share/ardour{self.version}",
            "ARDOUR_CONFIG_PATH": f"/etc/ardour{self.version}",
            "ARDOUR_DLL_PATH": folder,
        }
        scanner = f"{folder}/ardour-vst3-scanner"
        env = {**self.env, "LD_LIBRARY_PATH": folder}
        bundle = self.home / ".vst3/Sinistra.vst3"
        scan = subprocess.run(
            [scanner, "-f", "-v", str(bundle)], env=env, capture_output=True, text=True, timeout=120
        )
        self.scanned = scan.stdout + scan.stderr

    def script(self, text, folder, **values):
        path = self.home / "script.lua"
        path.write_text(text)
        env = {**self.env, "DIR": str(folder), **{name: str(value) for name, value in values.items()}}
        ran = subprocess.run(
            [str(self.run_path), str(path)], env=env, capture_output=True, text=True, timeout=240
        )
        return ran.stdout + ran.stderr

    def session(self, folder, bars, beats=4, **state):
        """A session with these chords (lists of keys), a bar each; `state` goes to the
        plugin. `None` if this Ardour cannot make one, with what it said."""
        said = self.script(MAKE, folder)
        if "MADE" not in said:
            return None, said
        said += self.script(ADD, folder)
        assert "ADDED" in said and "NO PLUGIN" not in said, said
        folder = Path(folder)
        chords(folder / "interchange/song/midifiles/chords.mid", bars, beats)
        path = folder / "song.ardour"
        text = path.read_text()
        source = '<Source name="chords.mid" take-id="" type="midi" flags="" id="900001"/>'
        text = text.replace("<Sources/>", f"<Sources>{source}</Sources>")
        region = REGION.format(len(bars) * beats * PULSES)
        text = re.sub(
            r'(<Playlist [^>]*name="Chords"[^>]*)/>', rf"\1>{region}</Playlist>", text, count=1
        )
        text = text.replace('divisions-per-bar="4"', f'divisions-per-bar="{beats}"')
        path.write_text(text)
        edit(path, {"patrn": 1, **state})  # roots on the beat
        return Session(self, folder, beats), said


class Session:
    """A session on disk."""

    def __init__(self, ardour, folder, beats):
        self.ardour, self.folder, self.beats = ardour, folder, beats

    def play(self, bars, first=0, buffer=1024, remove_in=""):
        """Plays bars from `first` on, and gives the take's notes:
        (beat from the start of the song, end, key)."""
        bar = self.beats * RATE // 2  # 120 quarter notes a minute
        remove = "" if remove_in == "" else int((remove_in + 0.4) * bar)
        said = self.ardour.script(
            PLAY,
            self.folder,
            FROM=first * bar,
            UNTIL=(first + bars) * bar,
            BUFFER=buffer,
            REMOVE=remove,
        )
        assert "PLAYED" in said, said
        self.latency = int(re.search(r"LATENCY\s+(\d+)", said).group(1))
        takes = list((self.folder / "interchange/song/midifiles").glob("Take*.mid"))
        assert len(takes) == 1, said
        return [(on + first * self.beats, off + first * self.beats, key) for on, off, key in notes(takes[0])]

    def state(self):
        """What the session keeps of the plugin."""
        return json.loads(chunk((self.folder / "song.ardour").read_text())[1])


def chords(path, bars, beats):
    """A MIDI file, a chord a bar, struck on the beat and held."""
    file = mido.MidiFile(type=0, ticks_per_beat=960)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for keys in bars:
        for key in keys:
            track.append(mido.Message("note_on", note=key, velocity=90))
        for n, key in enumerate(keys):
            track.append(mido.Message("note_off", note=key, time=0 if n else beats * 960))
    path.parent.mkdir(parents=True, exist_ok=True)
    file.save(path)


def notes(path):
    """Beats at which notes begin and end, and their keys."""
    file = mido.MidiFile(path)
    found, open_ = [], {}
    for track in file.tracks:
        at = 0
        for message in track:
            at += message.time
            beat = at / file.ticks_per_beat
            if message.type == "note_on" and message.velocity > 0:
                open_.setdefault(message.note, []).append(beat)
            elif message.type in ("note_on", "note_off") and open_.get(message.note):
                found.append((open_[message.note].pop(0), beat, message.note))
    assert not any(open_.values()), "a note without an end"
    return sorted(found)


def chunk(text):
    """The plugin's state in a session: as it is written there, and what it says. It is
    a preset of the format (VST 3, "VST3 preset file format")."""
    plugin = re.search(r'<Processor [^>]*name="Sinistra".*?</Processor>', text, re.S).group(0)
    written = re.search(r">([A-Za-z0-9+/=\s]{100,})<", plugin).group(1)
    data = base64.b64decode(written)
    return written, data[48 : struct.unpack("<q", data[40:48])[0]]


def edit(path, state):
    """Changes what the session keeps: `chart` as text, anything else a number."""
    text = path.read_text()
    written, said = chunk(text)
    said = json.loads(said)
    for name, value in state.items():
        if name == "chart":
            said["fields"]["chart"] = json.dumps(value)
        else:
            said["params"][name] = {"i32": value}
    body = json.dumps(said, separators=(",", ":")).encode()
    head = b"VST3" + struct.pack("<i", 1) + ID.encode() + struct.pack("<q", 48 + len(body))
    parts = struct.pack("<qq", 48, len(body)), struct.pack("<qq", 48 + len(body), 0)
    tail = b"List" + struct.pack("<i", 2) + b"Comp" + parts[0] + b"Cont" + parts[1]
    path.write_text(text.replace(written, base64.b64encode(head + body + tail).decode()))
