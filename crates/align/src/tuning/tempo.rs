//! Which tempi are tried, on which stretches, and when runs are one.

/// The slowest tempo sought freely, beats a minute.
pub(crate) const SLOWEST: f64 = 40.0;
/// The fastest one.
pub(crate) const FASTEST: f64 = 320.0;
/// One standard deviation of the tempo about each one tried, as a share; runs whose tempi differ by more are searched
/// again, each at its own.
pub(crate) const SPREAD: f64 = 0.05;
/// From one tempo tried freely to the next, a factor: two standard deviations.
pub(crate) const STEP: f64 = 1.0 + 2.0 * SPREAD;
/// One standard deviation of the tempo where a click gives it, as a share.
pub(crate) const CLICK_SPREAD: f64 = 0.005;
/// Tempi that one look covers, to tell whether a full search is worth its while.
pub(crate) const TEMPI_A_LOOK: usize = 2;
/// Tempi that may be known before listening: the user's, the file name's, the drill's.
pub(crate) const NAMED: usize = 3;
/// Looks that a take of another drill takes: those named, and from the slowest tempo to the fastest. Only what is told
/// of the progress hangs on it.
pub(crate) const LOOKS: usize = NAMED + tempi().div_ceil(TEMPI_A_LOOK);

/// How many tempi are tried freely.
const fn tempi() -> usize {
    let (mut count, mut tempo) = (0, SLOWEST);
    while tempo <= FASTEST {
        count += 1;
        tempo *= STEP;
    }
    count
}

/// Attacks tried at once in the free search, ...
pub(crate) const WINDOW: usize = 400;
/// ... or of long lines so many lines' notes; ...
pub(crate) const WINDOW_LINES: usize = 3;
/// ... the next ones begin after one in so many of them.
pub(crate) const WINDOWS_OVERLAP: usize = 2;
/// How often a stretch left over is looked at again.
pub(crate) const DEEPEST: usize = 12;
/// A tempo explains a stretch, and no other is sought, if (this, of so many) attacks are notes and notes reached are
/// heard: most.
pub(crate) const COVERED: (usize, usize) = (4, 5);

/// Notes of a run that give the tempo and scatter with which it is searched again.
pub(crate) const ENOUGH_FOR_TEMPO: usize = 8;
/// That scatter is taken to be from here ...
pub(crate) const LEAST_SCATTER: f64 = 0.03;
/// ... to here, usual distances.
pub(crate) const MOST_SCATTER: f64 = 0.25;

/// Two runs are one where no more notes are skipped between them ...
pub(crate) const MOST_SKIPPED: usize = 2;
/// ... and the second comes no later than this, usual distances.
pub(crate) const MOST_LATE: f64 = 10.0;
