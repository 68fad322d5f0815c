//! What is lost of a damaged stream.

/// Packets that could not be decoded, and the silence put in their place.
#[derive(Debug, Default)]
pub(super) struct Lost {
    pub(super) packets: u64,
    pub(super) first_at: u64,
    pub(super) in_a_row: u32,
    /// Packets in a row that gave no frame.
    pub(super) empty: u32,
}

impl Lost {
    /// Notes one more, whose place is frame `at` of the take.
    pub(super) fn note(&mut self, at: u64) {
        if self.packets == 0 {
            self.first_at = at;
        }
        self.packets += 1;
        self.in_a_row += 1;
    }
}
