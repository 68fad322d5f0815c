//! What a search starts from and what it finds.

/// What is assumed of the playing before the path is sought.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Prior {
    /// Seconds in the take for each drill second.
    pub(crate) rate: f64,
    /// One SD of it, as a share.
    pub(crate) rate_spread: f64,
    /// One SD of a note's time about the moving grid, seconds.
    pub(crate) scatter: f64,
}

/// A note heard: which attack is which note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Link {
    /// Unwrapped: goes on counting over turns of the line.
    pub(crate) note: usize,
    pub(crate) attack: usize,
    /// The grid starts anew here, after a hesitation.
    pub(crate) anew: bool,
}

/// An unbroken run through the line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chain {
    /// First and last note reached, heard or not; unwrapped.
    pub(crate) first: usize,
    pub(crate) last: usize,
    pub(crate) links: Vec<Link>,
}
