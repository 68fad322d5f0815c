"""Makes the guitars that the ear is fitted on and judged by: a folder of single notes each, NAME/STRING_MIDI_LAYER_TAKE.flac
(string 0: any; layer 0 soft, 1 loud; mono, 44.1 kHz, each note alone, cut to 1.5 s).

    python3 tests/measure/guitars.py OUT [--strings 60] [--samples NAME=FOLDER ...]

- The guitar programs of General MIDI sound fonts that Debian packages, played by FluidSynth without effects. Fonts that
  are not there are left out and named.
- Guitars drawn by the string model (`cargo run --example string_notes`), so many as `--strings` says.
- `--samples`: note files of a sample library named NOTE_LAYER_TAKE (c4_vl2_rr1.wav, gb3_ff_rr4.wav; C5 is MIDI 60).

Needs numpy, soundfile, soxr, mido; fluidsynth and the fonts (Debian: fluid-soundfont-gm, timgm6mb-soundfont).
"""

import argparse
import pathlib
import re
import subprocess
import tempfile

import mido
import numpy as np
import soundfile
import soxr

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]
RATE_HZ = 44100
# General MIDI Level 1 sound set, programs counted from 0.
PROGRAMS = {"nylon": 24, "steel": 25, "jazz": 26, "clean": 27, "muted": 28}
# Two more fonts of Debian hold the same guitar samples again (csound-soundfont those of `six`,
# musescore-general-soundfont-small nearly those of `fluid`): no guitar more.
FONTS = {
    "fluid": "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "six": "/usr/share/sounds/sf2/TimGM6mb.sf2",
}
KEYS = range(40, 85, 2)
VELOCITIES = (60, 110)
APART_S, BEGINS_S, KEPT_S = 2.5, 0.1, 1.5
PITCH = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}


def write(folder, name, samples, rate):
    """Mono, 44.1 kHz, 16 bits, peak 0.9, cut."""
    x = samples.mean(axis=1) if samples.ndim > 1 else samples
    x = soxr.resample(x, rate, RATE_HZ) if rate != RATE_HZ else x
    x = x[: int(KEPT_S * RATE_HZ)]
    peak = np.abs(x).max() if len(x) else 0.0
    if peak < 1e-4:
        return False
    folder.mkdir(parents=True, exist_ok=True)
    soundfile.write(folder / f"{name}.flac", 0.9 * x / peak, RATE_HZ, subtype="PCM_16")
    return True


def font_guitar(folder, font, program):
    """One program of a sound font, every second key at two velocities, each note in silence."""
    notes = [(key, layer, velocity) for key in KEYS for layer, velocity in enumerate(VELOCITIES)]
    file = mido.MidiFile(ticks_per_beat=1000)  # at 60 bpm a tick is a millisecond
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000), mido.Message("program_change", program=program)])
    gap = int(1000 * BEGINS_S)
    for key, _, velocity in notes:
        track.append(mido.Message("note_on", note=key, velocity=velocity, time=gap))
        track.append(mido.Message("note_off", note=key, time=1800))
        gap = int(1000 * APART_S) - 1800
    file.tracks.append(track)
    with tempfile.TemporaryDirectory() as work:
        midi, wav = f"{work}/notes.mid", f"{work}/notes.wav"
        file.save(midi)
        subprocess.run(["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE_HZ), "-O", "float", "-F", wav,
                        font, midi], check=True, capture_output=True, timeout=600)
        x, rate = soundfile.read(wav)
    for i, (key, layer, _) in enumerate(notes):
        at = int(i * APART_S * rate)
        write(folder, f"0_{key}_{layer}_0", x[at : at + int((APART_S - 0.1) * rate)], rate)


def sampled_guitar(folder, source):
    """Note files of a sample library; layers as they are sorted, the upper half is loud."""
    rows = []
    for path in sorted(pathlib.Path(source).rglob("*")):
        m = re.fullmatch(r"([a-g])(b?)(-?\d)_(.+)_rr(\d)", path.stem.lower())
        if m and path.suffix.lower() in (".wav", ".flac"):
            rows.append((12 * int(m[3]) + PITCH[m[1]] - len(m[2]), m[4], int(m[5]), path))
    order = {"pp": 0, "p": 1, "f": 2, "ff": 3}
    layers = sorted({r[1] for r in rows}, key=lambda v: (order.get(v, 9), v))
    taken = {}
    for key, layer, _, path in rows:
        loud = int(2 * layers.index(layer) >= len(layers))
        take = taken.setdefault((key, loud), 0)
        taken[key, loud] = take + 1
        samples, rate = soundfile.read(path)
        write(folder, f"0_{key}_{loud}_{take}", samples, rate)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=pathlib.Path)
    parser.add_argument("--strings", type=int, default=60)
    parser.add_argument("--samples", nargs="*", default=[])
    words = parser.parse_args()
    for font, path in FONTS.items():
        if not pathlib.Path(path).exists():
            print(f"left out: {font} ({path} is not there)")
            continue
        for name, program in PROGRAMS.items():
            font_guitar(words.out / f"{font}-{name}", path, program)
    for pair in words.samples:
        name, source = pair.split("=", 1)
        sampled_guitar(words.out / name, source)
    if words.strings:
        subprocess.run(["cargo", "run", "--release", "--quiet", "-p", "takegauge-pluck", "--example", "string_notes", "--",
                        str(words.out.resolve()), str(words.strings), "1"], cwd=REPOSITORY, check=True)


if __name__ == "__main__":
    main()
