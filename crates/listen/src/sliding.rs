//! The largest of the values nearby, in a stream.

use std::collections::VecDeque;

/// The maximum over a stretch that reaches `back` values back and as far ahead as values have been pushed.
pub(crate) struct SlidingMax {
    back: usize,
    pushed: usize,
    /// Values (number, value) larger than all after them, oldest first.
    falling: VecDeque<(usize, f32)>,
}

impl SlidingMax {
    pub(crate) fn new(back: usize) -> Self {
        Self { back, pushed: 0, falling: VecDeque::new() }
    }

    pub(crate) fn push(&mut self, value: f32) {
        while self.falling.back().is_some_and(|l| l.1 <= value) {
            self.falling.pop_back();
        }
        self.falling.push_back((self.pushed, value));
        self.pushed += 1;
    }

    /// The maximum around value number `at`; `at` must not fall from call to call.
    pub(crate) fn around(&mut self, at: usize) -> f32 {
        while self.falling.front().is_some_and(|l| l.0 + self.back < at) {
            self.falling.pop_front();
        }
        self.falling.front().map_or(0.0, |l| l.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_the_maximum_of_the_stretch() {
        let x: Vec<f32> = (0..200).map(|i| ((i * 7919) % 101) as f32).collect();
        let (back, ahead) = (13, 7);
        let mut m = SlidingMax::new(back);
        for (i, v) in x.iter().enumerate() {
            m.push(*v);
            if let Some(at) = i.checked_sub(ahead) {
                let plain = x[at.saturating_sub(back)..=i].iter().fold(0.0f32, |a, b| a.max(*b));
                assert_eq!(m.around(at), plain, "at {at}");
            }
        }
    }
}
