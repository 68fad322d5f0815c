//! Plucked notes with known attacks, from a plain string loop (Karplus & Strong 1983): a burst of noise goes round a
//! delay line that averages it a little at each turn.

/// Attack time in seconds, MIDI key, amplitude.
pub(crate) type Note = (f64, u8, f32);

/// `seconds` of sound at `rate` with `notes`, each on a string of its own that rings on, over noise 76 dB below full
/// scale as every recording has.
pub(crate) fn plucks(rate: f64, seconds: f64, notes: &[Note]) -> Vec<f32> {
    let mut out = vec![0.0f32; (seconds * rate) as usize];
    let mut state = 0x2545_f491_4f6c_dd1du64;
    for y in &mut out {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        *y = ((state >> 40) as f32 / 8_388_608.0 - 1.0) * 1.6e-4;
    }
    for (time, key, amplitude) in notes {
        let period = rate / (440.0 * 2f64.powf((f64::from(*key) - 69.0) / 12.0));
        let mut line: Vec<f32> = (0..period.round() as usize)
            .map(|_| {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                ((state >> 40) as f32 / 8_388_608.0 - 1.0) * amplitude
            })
            .collect();
        let (mut at, mut last) = (0, 0.0f32);
        for y in out.iter_mut().skip((time * rate).round() as usize) {
            *y += line[at];
            let new = 0.995 * (0.6 * line[at] + 0.4 * last);
            last = line[at];
            line[at] = new;
            at = (at + 1) % line.len();
        }
    }
    out
}

/// A scale of `n` notes, `step` seconds apart, beginning at half a second.
pub(crate) fn scale(n: usize, step: f64) -> Vec<Note> {
    const STEPS: [u8; 12] = [43, 45, 47, 48, 50, 52, 54, 55, 57, 59, 60, 62];
    (0..n).map(|i| (0.5 + step * i as f64, STEPS[i % 12], 0.3)).collect()
}
