//! Blind changes of known files, seeded: what is done where no instrumentation leads the way.

/// Seeded numbers: SplitMix64 (Steele, Lea & Flood 2014).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn next(&mut self) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 1) as usize
    }
}

/// Numbers that have broken readers before.
const ODD: [u64; 8] = [0, 1, 0x7f, 0xff, 0x7fff_ffff, 0xffff_ffff, u64::MAX / 2, u64::MAX];

/// One to eight changes: cut off, doubled, odd numbers, pieces of other files, bytes taken out or replaced.
pub(crate) fn change(bytes: &mut Vec<u8>, others: &[Vec<u8>], random: &mut Random) {
    for _ in 0..=random.next() % 8 {
        let reach = if random.next().is_multiple_of(3) { bytes.len().min(256) } else { bytes.len() }.max(1);
        let at = random.next() % reach;
        match random.next() % 9 {
            0 => bytes.truncate(at),
            1 => {
                let piece: Vec<u8> = bytes.iter().skip(at).take(1 + random.next() % 64).copied().collect();
                bytes.splice(at.min(bytes.len())..at.min(bytes.len()), piece);
            }
            2 => {
                let odd = ODD[random.next() % ODD.len()].to_be_bytes();
                let width = [1, 2, 4, 8][random.next() % 4];
                for (k, b) in odd[8 - width..].iter().enumerate() {
                    if let Some(slot) = bytes.get_mut(at + k) {
                        *slot = *b;
                    }
                }
            }
            3 => {
                let other = &others[random.next() % others.len()];
                let from = random.next() % other.len().max(1);
                let piece: Vec<u8> = other.iter().skip(from).take(1 + random.next() % 200).copied().collect();
                bytes.splice(at.min(bytes.len())..at.min(bytes.len()), piece);
            }
            4 if !bytes.is_empty() => {
                let end = (at + 1 + random.next() % 16).min(bytes.len());
                bytes.drain(at.min(end)..end);
            }
            _ => {
                if let Some(slot) = bytes.get_mut(at) {
                    *slot = random.next() as u8;
                }
            }
        }
    }
}
