"""Markers of a scored take, read back by outside libraries: RIFF cue points and labels by wavinfo, the sound by
soundfile, JAMS by jams (its schema included). Usage: markers.py TARGET_DIRECTORY (where the built program is).
"""

import csv
import json
import os
import subprocess
import sys
import tempfile

import jams
import numpy
import soundfile
import wavinfo

program = os.path.join(sys.argv[1], "takegauge")
takes = os.path.join(os.path.dirname(__file__), "..", "..", "test-audio")


def score(name, *more):
    words = ["score", "-q", os.path.join(takes, f"{name}.flac"), "--drill", os.path.join(takes, f"{name}.toml"), *more]
    done = subprocess.run([program, *words], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return done.stdout


def main():
    count = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in ("mixed_errors", "restarts"):
            marked, table, notes = (os.path.join(folder, f"{name}{e}") for e in (".wav", ".csv", ".jams"))
            report = json.loads(score(name, "--markers", marked, "--json", "-"))
            score(name, "--markers", table)
            score(name, "--markers", notes)
            with open(table, newline="") as f:
                rows = [(float(r["time_s"]), r["label"]) for r in csv.DictReader(f)]
            sound, rate = soundfile.read(marked)
            info = wavinfo.WavInfoReader(marked)
            cues = {c.name: c.sample_offset for c in info.cues.cues}
            labels = {label.name: label.text for label in info.cues.labels}
            assert len(cues) == len(labels) == len(rows)
            for number, (time, label) in enumerate(rows, 1):
                assert labels[number] == label, (number, label)
                assert abs(cues[number] - min(time * rate, len(sound) - 1)) <= 0.51, (number, time)
            original, _ = soundfile.read(os.path.join(takes, f"{name}.flac"))
            assert original.shape == sound.shape and numpy.abs(original - sound).max() < 1e-6
            played = sorted(n["played_s"] for n in report["notes"] if n["played_s"] is not None)
            heard = [t for t, label in rows if " played" in label]
            assert numpy.allclose(heard, played, atol=1e-6)
            annotations = jams.load(notes, validate=True)
            onsets = annotations.search(namespace="onset")[0].to_event_values()[0]
            assert len(onsets) == len(played) + len(report["extra"])
            count += len(rows)
    print(f"{count} markers read back by wavinfo, jams and soundfile")


main()
