"""Drills out and in, against outside libraries: MusicXML 4.0 against the W3C schema and music21, MIDI against mido and
pretty_midi, JAMS written by jams. Usage: exchange.py TARGET_DIRECTORY (where the built program is).

The schema is the W3C's musicxml.xsd 4.0 as the package musicxml ships it; the XLink attributes it imports are
declared here, so that nothing is fetched.
"""

import json
import os
import subprocess
import sys
import tempfile

import jams
import mido
import music21
import musicxml
import pretty_midi
import xmlschema

program = os.path.join(sys.argv[1], "takegauge")
XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
<xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:string"/>
<xs:attribute name="role" type="xs:token"/><xs:attribute name="title" type="xs:token"/>
<xs:attribute name="show" type="xs:string"/><xs:attribute name="actuate" type="xs:string"/></xs:schema>"""
TENTH_OF_A_MILLISECOND = 1e-4


def run(*words):
    done = subprocess.run([program, *words], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, f"{words}: {done.stderr}"
    return done.stdout


def schema(folder):
    xlink = os.path.join(folder, "xlink.xsd")
    with open(xlink, "w") as f:
        f.write(XLINK)
    home = os.path.join(os.path.dirname(musicxml.__file__), "generate_classes")
    locations = {
        "http://www.w3.org/1999/xlink": xlink,
        "http://www.w3.org/XML/1998/namespace": os.path.join(home, "xml.xsd"),
    }
    return xmlschema.XMLSchema(os.path.join(home, "musicxml_4_0.xsd"), locations=locations, allow="local")


def check_musicxml(name, file, grid, valid):
    errors = [f"{e.path}: {e.reason}" for e in valid.iter_errors(file)]
    assert not errors, (name, errors[:3])
    once = [n for n in grid["notes"] if n["repeat"] == 0]
    score = music21.converter.parse(file)
    notes = [n for n in score.flatten().notes if n.tie is None or n.tie.type == "start"]
    assert len(notes) == len(once), (name, len(notes), len(once))
    quarter = 60 / grid["tempo_bpm"]
    for read, wrote in zip(notes, once):
        signs = {type(a).__name__: a for a in read.articulations}
        assert sorted(p.midi for p in read.pitches) == sorted(wrote["midi"]), (name, read, wrote)
        assert signs["StringIndication"].number == wrote["string"], (name, read, wrote)
        assert signs["FretIndication"].number == wrote["fret"], (name, read, wrote)
        stroke = "down" if "DownBow" in signs else "up" if "UpBow" in signs else None
        assert stroke == wrote["stroke"], (name, read, wrote)
    offsets = [float(n.getOffsetInHierarchy(score)) * quarter for n in notes]
    if "swung" not in name:
        worst = max(abs(a - offsets[0] - b["expected_s"]) for a, b in zip(offsets, once))
        assert worst < 1e-6, (name, worst)
    marks = [m.number for m in score.flatten().getElementsByClass(music21.tempo.MetronomeMark)]
    assert abs(marks[0] - grid["tempo_bpm"]) < 1e-9, (name, marks)


def check_midi(name, file, grid):
    wanted = sorted((n["expected_s"], k) for n in grid["notes"] for k in n["midi"])
    pretty = pretty_midi.PrettyMIDI(file)
    read = sorted((n.start, n.pitch) for i in pretty.instruments if not i.is_drum for n in i.notes)
    now, messages = 0.0, []
    for message in mido.MidiFile(file):
        now += message.time
        if message.type == "note_on" and message.velocity > 0 and message.channel != 9:
            messages.append((now, message.note))
    worst = 0.0
    for found in (read, sorted(messages)):
        assert [k for _, k in found] == [k for _, k in wanted], name
        lead = found[0][0] - wanted[0][0]
        worst = max(worst, max(abs(a[0] - lead - b[0]) for a, b in zip(found, wanted)))
    assert worst <= TENTH_OF_A_MILLISECOND, (name, worst)
    return worst


def grid_of(folder, toml):
    file = os.path.join(folder, "back.toml")
    with open(file, "w") as f:
        f.write(toml)
    return grid(file)


def grid(drill):
    """What the checks look at: the drill's tempo, repeats and notes."""
    shown = json.loads(run("drill", "show", "--json", drill))
    kept = ("repeat", "expected_s", "lasts_s", "string", "fret", "midi", "stroke")
    notes = [{key: n[key] for key in kept} for n in shown["notes"]]
    return {"repeats": shown["repeats"], "tempo_bpm": shown["tempo_bpm"], "notes": notes}


def check_files_of_music21(folder):
    part = music21.stream.Part([music21.tempo.MetronomeMark(number=96), music21.meter.TimeSignature("3/4")])
    keys = [45, 48, 50, 52, 55, 57, 60, 57, 55, 52, 50, 48]
    for i, key in enumerate(keys):
        note = music21.note.Note(key, quarterLength=music21.common.opFrac(1 / 3) if i < 6 else 0.5)
        note.articulations.append(music21.articulations.UpBow() if i % 2 else music21.articulations.DownBow())
        part.append(note)
    for ending in ("musicxml", "mxl"):
        file = os.path.join(folder, f"theirs.{ending}")
        music21.stream.Score([part]).write(ending, file)
        shown = grid_of(folder, run("drill", "import", file))
        assert [n["midi"] for n in shown["notes"]] == [[k] for k in keys], ending
        assert shown["tempo_bpm"] == 96
        starts = [i * 60 / 96 / 3 for i in range(6)] + [2 * 60 / 96 + i * 30 / 96 for i in range(6)]
        assert all(abs(n["expected_s"] - s) < 1e-6 for n, s in zip(shown["notes"], starts)), ending
        assert [n["stroke"] for n in shown["notes"]] == ["down", "up"] * 6, ending


def check_files_of_mido(folder):
    keys = [43, 45, 47, 48, 50, 52, 53, 55]
    for kind in (0, 1):
        out = mido.MidiFile(type=kind, ticks_per_beat=480)
        track = mido.MidiTrack()
        out.tracks.append(track)
        track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(132)))
        for key in keys:
            track.append(mido.Message("note_on", note=key, velocity=80, time=0))
            track.append(mido.Message("note_off", note=key, velocity=0, time=120))
        file = os.path.join(folder, "theirs.mid")
        out.save(file)
        shown = grid_of(folder, run("drill", "import", file))
        assert [n["midi"] for n in shown["notes"]] == [[k] for k in keys]
        assert all(abs(n["expected_s"] - i * 60 / 132 / 4) < 1e-6 for i, n in enumerate(shown["notes"]))


def check_jams(folder):
    out = jams.JAMS()
    out.file_metadata.duration = 4.0
    notes = jams.Annotation(namespace="note_midi")
    keys = [52, 55, 57, 59, 60, 62]
    for i, key in enumerate(keys):
        notes.append(time=0.5 + i * 0.125, duration=0.12, value=key)
    out.annotations.append(notes)
    file = os.path.join(folder, "theirs.jams")
    out.save(file)
    shown = grid_of(folder, run("drill", "import", file, "--tempo", "120"))
    assert [n["midi"] for n in shown["notes"]] == [[k] for k in keys]
    assert all(abs(n["expected_s"] - i * 0.125) < 1e-9 for i, n in enumerate(shown["notes"]))


def main():
    worst, names = 0.0, [line.split()[0] for line in run("drill", "list").splitlines()[1:] if line.strip()]
    assert len(names) >= 24
    with tempfile.TemporaryDirectory() as folder:
        valid = schema(folder)
        for name in names:
            wanted = grid(name)
            for ending in ("musicxml", "mid", "txt", "toml"):
                run("drill", "export", name, "-o", os.path.join(folder, f"{name}.{ending}"))
            check_musicxml(name, os.path.join(folder, f"{name}.musicxml"), wanted, valid)
            worst = max(worst, check_midi(name, os.path.join(folder, f"{name}.mid"), wanted))
            for ending in ("musicxml", "txt", "toml"):
                back = grid_of(folder, run("drill", "import", os.path.join(folder, f"{name}.{ending}")))
                assert back == wanted, (name, ending)
        check_files_of_music21(folder)
        check_files_of_mido(folder)
        check_jams(folder)
    print(f"{len(names)} drills through MusicXML, MIDI, text; MIDI onsets within {worst * 1e3:.3f} ms")


main()
