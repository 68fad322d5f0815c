"""The plain form of the spectral flux (crates/listen/src/plain) against librosa: STFT, mel bands and onset strength at
librosa's own settings, and SuperFlux at the setting of Böck & Widmer (2013) put together from librosa's parts.
Usage: flux_librosa.py TARGET_DIRECTORY (where the built examples are).

librosa: McFee et al. (2015), SciPy. SuperFlux: DAFx-13, pp. 55-61; its published program sets 2048 samples, 200 frames
a second, 24 bands an octave from 30 Hz to 17 kHz not normalised, log10(1 + x), a maximum over 3 bands, the difference to
the frame at half the window's height, and picks what is the largest from 10 ms before to 50 ms after and 1.1 above the
mean of the last 150 ms, 30 ms apart.

That the fast path gives the plain form's numbers is a test of the crate itself.
"""

import json
import os
import pathlib
import subprocess
import sys
import tempfile

import librosa
import numpy as np
import soundfile

PROGRAM = os.path.join(sys.argv[1], "examples", "plain_flux")
TAKES = pathlib.Path(__file__).parents[2] / "test-audio"
TOLERANCE = 1e-4
# Seconds of a take: the spectra are printed in full.
FROM_S, TO_S = 0.4, 4.4
LENGTH, FRAMES_A_SECOND = 2048, 200


def same(what, ours, theirs):
    """Within the tolerance, relative to the largest value."""
    ours, theirs = np.asarray(ours), np.asarray(theirs)
    assert ours.shape == theirs.shape, f"{what}: {ours.shape} and {theirs.shape}"
    off = np.abs(ours - theirs).max() / np.abs(theirs).max()
    assert off < TOLERANCE, f"{what}: {off:.1e}"
    return f"{what} {off:.0e}"


def log_bank(rate, bins):
    """The published filter bank, from its description."""
    steps = np.arange(-200, 200)
    corners = 440 * 2 ** (steps / 24)
    low, high = steps[corners >= 30].min() - 1, steps[corners <= min(17000, rate / 2)].max() + 1
    places = np.unique(np.round(corners[(steps >= low) & (steps <= high)] * 2 * bins / rate).astype(int))
    places = places[places < bins]
    bank = np.zeros((len(places) - 2, bins + 1))
    for band, (a, b, c) in zip(bank, zip(places, places[1:], places[2:])):
        band[a:b] = np.linspace(0, 1, b - a, endpoint=False)
        band[b:c] = np.linspace(1, 0, c - b, endpoint=False)
    return bank


def superflux(y, rate):
    """SuperFlux and its attacks from librosa's parts; the hop must be whole."""
    hop, window = rate // FRAMES_A_SECOND, np.hanning(LENGTH)
    spectra = np.abs(librosa.stft(y, n_fft=LENGTH, hop_length=hop, window=window))[:, : -(-len(y) // hop)]
    bands = np.log10(1 + log_bank(rate, LENGTH // 2) @ spectra)
    lag = max(1, round((LENGTH / 2 - np.argmax(window > 0.5)) / hop))
    flux = librosa.onset.onset_strength(S=bands, sr=rate, lag=lag, max_size=3, aggregate=np.sum, center=False)
    # librosa's stretches end one frame sooner than the published ones. Its mean is over the frames there are, ours takes
    # those before the beginning for 0: no difference once the first 150 ms are over.
    frames = {k: round(v * FRAMES_A_SECOND) for k, v in
              {"pre_max": 0.01, "post_max": 0.05, "pre_avg": 0.15, "post_avg": 0, "wait": 0.03}.items()}
    frames["post_max"] += 1
    frames["post_avg"] += 1
    return flux, librosa.util.peak_pick(flux, delta=1.1, **frames) / FRAMES_A_SECOND


def check(take, folder):
    y, rate = soundfile.read(TAKES / f"{take}.flac")
    y = y[int(FROM_S * rate) : int(TO_S * rate)]
    wav = os.path.join(folder, f"{take}.wav")
    soundfile.write(wav, y, rate, "PCM_16")
    done = subprocess.run([PROGRAM, wav], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    ours = json.loads(done.stdout)
    assert ours["sample_rate_hz"] == rate

    found = [same("STFT", np.transpose(ours["spectra"]), np.abs(librosa.stft(y)))]
    found.append(same("mel", np.transpose(ours["mel"]), librosa.feature.melspectrogram(y=y, sr=rate)))
    found.append(same("onset strength", ours["onset_strength"], librosa.onset.onset_strength(y=y, sr=rate)))
    assert max(ours["onset_strength"]) > 1
    if rate % FRAMES_A_SECOND == 0:
        flux, attacks = superflux(y, rate)
        found.append(same("SuperFlux", ours["superflux"], flux))
        attacks, named = (np.array([t for t in x if t > 0.15]) for x in (attacks, ours["superflux_attacks_s"]))
        assert len(attacks) > 20 and np.allclose(named, attacks, rtol=0, atol=1e-9), f"{named} and {attacks}"
        found.append(f"{len(attacks)} attacks the same")
    print(f"{take}, {rate} Hz: {', '.join(found)}")


def main():
    with tempfile.TemporaryDirectory() as folder:
        for take in ("late_inside", "driven_ticks_soft", "acoustic_room"):
            check(take, folder)


main()
