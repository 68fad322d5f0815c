"""The same attacks through every audio format.

Writes one take of plucked notes as WAV, then as every other format with libsndfile (PyPI: soundfile) and FFmpeg (the
static binary in PyPI's imageio-ffmpeg), runs `takegauge onsets --json -` on each, and checks that the attacks come
within 1 ms of the WAV's, within 3 ms through what messengers and phones send. Opus is decoded once more by libopus
(FFmpeg's), and must begin, go on and end on the same samples.

    python3 formats.py TARGET_DIRECTORY (where the built program is)
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import imageio_ffmpeg
import numpy as np
import soundfile

RATE = 44100
LOSSLESS_MS, LOSSY_MS = 1.0, 1.0

# name: (subtype, container) for libsndfile
SNDFILE = {
    "pcm24.wav": ("PCM_24", "WAV"), "pcm32.wav": ("PCM_32", "WAV"), "float.wav": ("FLOAT", "WAV"),
    "double.wav": ("DOUBLE", "WAV"), "extensible.wav": ("PCM_24", "WAVEX"), "pcm16.aiff": ("PCM_16", "AIFF"),
    "pcm24.aiff": ("PCM_24", "AIFF"), "pcm16.flac": ("PCM_16", "FLAC"), "pcm24.flac": ("PCM_24", "FLAC"),
    "float.caf": ("FLOAT", "CAF"),
}
SNDFILE_LOSSY = {"sndfile.ogg": ("VORBIS", "OGG"), "sndfile.mp3": ("MPEG_LAYER_III", "MP3"), "pcm8.wav": ("PCM_U8", "WAV")}
FFMPEG = {
    "alac.m4a": ["-c:a", "alac"], "alac.caf": ["-c:a", "alac"], "pcm.mov": ["-c:a", "pcm_s16le"],
    "flac.mkv": ["-c:a", "flac"], "flac.ogg": ["-c:a", "flac"],
}
FFMPEG_LOSSY = {
    "aac.m4a": ["-c:a", "aac", "-b:a", "160k"], "aac.mov": ["-c:a", "aac", "-b:a", "160k"],
    "aac.mkv": ["-c:a", "aac", "-b:a", "160k"], "vorbis.ogg": ["-c:a", "libvorbis", "-q:a", "6"],
    "cbr.mp3": ["-c:a", "libmp3lame", "-b:a", "160k"], "vbr.mp3": ["-c:a", "libmp3lame", "-q:a", "2"],
}
# What messengers and phones send: at so few bits a coder moves single attacks itself.
MESSENGER_MS = 3.0
MESSENGER = {
    "aac.3gp": ["-c:a", "aac", "-b:a", "96k"], "opus.ogg": ["-c:a", "libopus", "-b:a", "64k"],
    "opus.webm": ["-c:a", "libopus", "-b:a", "64k"], "opus.mp4": ["-c:a", "libopus", "-b:a", "64k"],
    "stereo.webm": ["-ac", "2", "-c:a", "libopus", "-b:a", "96k"],
    "fragments.mp4": ["-c:a", "libopus", "-b:a", "64k", "-movflags", "frag_keyframe+empty_moov"],
    "long-packets.opus": ["-c:a", "libopus", "-b:a", "48k", "-frame_duration", "60"],
    "voice.opus": ["-c:a", "libopus", "-b:a", "24k", "-application", "voip"],
}


def take():
    """Twenty-four plucked notes over a faint hiss, unevenly spaced; seed fixed."""
    rng = np.random.default_rng(11)
    x = 1e-4 * rng.standard_normal(8 * RATE)
    at = RATE // 2
    for _ in range(24):
        t = np.arange(RATE // 2) / RATE
        hz = 110 * 2 ** (rng.integers(0, 24) / 12)
        note = sum(np.sin(2 * np.pi * hz * k * t) / k for k in range(1, 12)) * np.exp(-9 * t)
        note[:40] *= np.linspace(0, 1, 40)
        x[at:at + len(t)] += 0.22 * note
        at += int(rng.uniform(0.2, 0.3) * RATE)
    return np.clip(x, -0.99, 0.99)


def onsets(binary, path):
    run = subprocess.run([binary, "onsets", str(path), "--json", "-"], capture_output=True, text=True, check=False)
    if run.returncode != 0:
        raise SystemExit(f"{path.name}: exit {run.returncode}: {run.stderr.strip()}")
    answer = json.loads(run.stdout)
    return np.array([o["time_s"] for o in answer["onsets"]], float)


def worst_ms(found, wanted):
    """The largest difference; infinite where not the same number was heard."""
    return float(np.abs(found - wanted).max()) * 1e3 if len(found) == len(wanted) else float("inf")


def main():
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    built, ffmpeg = pathlib.Path(sys.argv[1]), imageio_ffmpeg.get_ffmpeg_exe()
    binary, decode = built / "takegauge", built / "examples" / "decode"
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        wav = folder / "take.wav"
        soundfile.write(wav, take(), RATE, subtype="PCM_16")
        samples, _ = soundfile.read(wav)
        wanted = onsets(binary, wav)
        if len(wanted) < 20:
            raise SystemExit(f"only {len(wanted)} of 24 attacks found in the WAV itself")
        for table, limit in ((SNDFILE, LOSSLESS_MS), (SNDFILE_LOSSY, LOSSY_MS)):
            for name, (subtype, container) in table.items():
                soundfile.write(folder / name, samples, RATE, subtype=subtype, format=container)
                failed += report(name, onsets(binary, folder / name), wanted, limit)
        for table, limit in ((FFMPEG, LOSSLESS_MS), (FFMPEG_LOSSY, LOSSY_MS), (MESSENGER, MESSENGER_MS)):
            for name, options in table.items():
                command = [ffmpeg, "-loglevel", "error", "-y", "-i", str(wav), *options, str(folder / name)]
                subprocess.run(command, check=True)
                failed += report(name, onsets(binary, folder / name), wanted, limit)
                if "libopus" in options:
                    failed += against_libopus(ffmpeg, decode, folder / name)
    if failed:
        raise SystemExit(f"{failed} format(s) failed")


def against_libopus(ffmpeg, decode, path):
    """Whether both decoders give the same samples from the first on; MP4 leaves the last packet's padding open."""
    command = [ffmpeg, "-loglevel", "error", "-c:a", "libopus", "-i", str(path), "-af", "pan=mono|c0=c0", "-f", "f32le", "-"]
    wanted = np.frombuffer(subprocess.run(command, capture_output=True, check=True).stdout, "<f4")
    heard = np.frombuffer(subprocess.run([decode, str(path)], capture_output=True, check=True).stdout, "<f4")
    shared = min(len(heard), len(wanted))
    worst = np.abs(heard[:shared] - wanted[:shared]).max() * 32768
    apart = abs(len(heard) - len(wanted))
    # Packets of several frames differ in the twelfth bit: -60 dB, and no time.
    good = worst <= (64 if path.name == "long-packets.opus" else 2) and apart <= (960 if path.suffix == ".mp4" else 0)
    print(f"{path.name:16} worst {worst:.2f} of the smallest steps of 16 bits, {apart} samples longer or shorter "
          f"{'ok' if good else 'FAILED'}")
    return not good


def report(name, found, wanted, limit):
    worst = worst_ms(found, wanted)
    good = worst <= limit
    print(f"{name:16} worst {worst:7.3f} ms, limit {limit} ms {'ok' if good else 'FAILED'}")
    return not good


if __name__ == "__main__":
    main()
