//! Two sounds laid over each other.

use crate::coarse::{Place, places};
use crate::envelope::{Envelope, HOP};
use crate::error::NoMatch;
use crate::line::{Fitted, Line, best_line};
use crate::narrow::{Narrow, RATE_HZ};
use crate::windows::{Comparer, REACH, SILENT, Seen, WINDOW};
use takegauge_stats::Estimate;
use takegauge_units::{Millis, Seconds};

/// Below this nothing can be told.
const LEAST: Seconds = Seconds(3.0);
/// Steps of a piece that is sought: a minute.
const PIECE: usize = 60 * RATE_HZ as usize / HOP;
/// Steps that a piece and the other sound must share.
const LEAST_STEPS: usize = LEAST.0 as usize * RATE_HZ as usize / HOP;
/// Places a piece that are looked at in a few windows, and windows of each.
const PLACES: usize = 120;
const FIRST_WINDOWS: usize = 10;
/// Places, of all pieces, that are looked at in every window.
const SECOND_PLACES: usize = 6;
/// Windows over the whole take at most.
const MOST_WINDOWS: usize = 160;
/// Sounds in common for less than this are compared in windows of half the length.
const SHORT: i64 = 12 * RATE_HZ as i64;
/// Of the windows with sound, at least this share must agree on one line, and at least so many.
const AGREEING_SHARE: f64 = 0.5;
const LEAST_AGREEING: usize = 5;

/// How a film's clock runs against the take's: film seconds = `offset` + take seconds * (1 + 1e-6 `drift_ppm`).
#[derive(Debug, Clone, PartialEq)]
pub struct Clocks {
    /// Film seconds at the take's start, below 0 where the film starts later; a 95 % interval.
    pub offset_s: Estimate,
    /// By how much the film's clock is faster, in millionths; a 95 % interval.
    pub drift_ppm: Estimate,
    /// Windows that agree with the line.
    pub agree: usize,
    /// Windows with sound in both.
    pub windows: usize,
    /// Standard deviation of the agreeing windows about the line.
    pub scatter: Millis,
    /// The part of the take that the film's sound covers.
    pub covers: (Seconds, Seconds),
}

impl Clocks {
    /// The film's time at a time of the take.
    pub fn film_time(&self, take: Seconds) -> Seconds {
        Seconds(self.offset_s.value + take.0 * (1.0 + 1e-6 * self.drift_ppm.value))
    }
}

/// Finds where `film` was recorded along with `take`. Memory: some ten times that of the shorter and three times that of
/// the longer sound; time: some seconds for hours of film.
///
/// # Errors
/// [`NoMatch`], with what was seen.
pub fn match_sounds(take: &Narrow, film: &Narrow) -> Result<Clocks, NoMatch> {
    for (which, sound) in [("the take", take), ("the film's sound", film)] {
        if sound.duration() < LEAST {
            return Err(NoMatch::TooShort { which, length: sound.duration(), needed: LEAST });
        }
    }
    let floors = [take, film].map(|s| SILENT * mean_square(s));
    for (which, floor) in [("the take", floors[0]), ("the film's sound", floors[1])] {
        if floor <= 0.0 {
            return Err(NoMatch::Silent { which });
        }
    }
    let pair = Pair { take, film, floors };
    let mut found: Vec<(f64, Stretch, i64)> = Vec::new();
    for (stretch, offset) in pair.candidates() {
        let seen = pair.look(stretch, FIRST_WINDOWS, |_| offset);
        if let Some((_, likeness)) = best_line(&seen, REACH as f64 / 2.0).filter(|_| seen.len() >= LEAST_AGREEING) {
            found.push((likeness, stretch, offset));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
    found.truncate(SECOND_PLACES);
    let fits = found.iter().filter_map(|(_, stretch, offset)| {
        let seen = pair.look(*stretch, MOST_WINDOWS, |_| *offset);
        let fit = Fitted::near(&seen, best_line(&seen, REACH as f64 / 2.0)?.0);
        // Few windows agree more easily than many.
        Some(((fit.agree.len() as f64).powi(2) / seen.len() as f64, fit.line))
    });
    let best = fits.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, line)| line);
    pair.whole(best.unwrap_or(Line { from: 0.0, at: 0.0, slope: 0.0 }))
}

fn mean_square(sound: &Narrow) -> f64 {
    let mut block = vec![0.0f32; 1 << 16];
    let mut sum = 0.0;
    for from in (0..sound.len()).step_by(block.len()) {
        sound.read(from as i64, &mut block);
        sum += block.iter().map(|x| f64::from(*x) * f64::from(*x)).sum::<f64>();
    }
    sum / sound.len().max(1) as f64
}

/// Take samples from and to.
type Stretch = (i64, i64);

struct Pair<'a> {
    take: &'a Narrow,
    film: &'a Narrow,
    floors: [f64; 2],
}

impl Pair<'_> {
    /// Stretches of the take and film sample minus take sample at which they may lie.
    fn candidates(&self) -> Vec<(Stretch, i64)> {
        let (take, film) = (Envelope::of(self.take), Envelope::of(self.film));
        let film_is_longer = film.len() >= take.len();
        let (piece, long) = if film_is_longer { (&take, &film) } else { (&film, &take) };
        let rest = piece.len().saturating_sub(PIECE);
        let starts = if rest == 0 { vec![0] } else { vec![0, rest / 2, rest] };
        let mut all = Vec::new();
        for from in starts {
            for Place { at, .. } in places(piece, from, PIECE, long, LEAST_STEPS, PLACES) {
                let offset = (at - from as i64) * HOP as i64;
                let offset = if film_is_longer { offset } else { -offset };
                let ends = [from, (from + PIECE).min(piece.len())].map(|s| (s * HOP) as i64);
                let [a, b] = if film_is_longer { ends } else { ends.map(|e| e - offset) };
                all.push((self.both((a, b), offset as f64), offset));
            }
        }
        all
    }

    /// The part of a stretch of the take that lies in the film as well.
    fn both(&self, (from, to): Stretch, offset: f64) -> Stretch {
        let offset = offset.round() as i64;
        (from.max(0).max(-offset), to.min(self.take.len() as i64).min(self.film.len() as i64 - offset))
    }

    /// Compares at most `most` windows, none over another, spread over a stretch.
    fn look(&self, (from, to): Stretch, most: usize, offset: impl Fn(i64) -> i64) -> Vec<Seen> {
        let length = to - from;
        let window = if length < SHORT { WINDOW / 2 } else { WINDOW } as i64;
        let n = (length / window).min(most as i64);
        let comparer = Comparer::new(window as usize);
        let at = |k: i64| from + window / 2 + if n > 1 { k * (length - window) / (n - 1) } else { 0 };
        let see = |middle| comparer.compare(self.take, middle, self.film, middle + offset(middle), self.floors);
        (0..n).filter_map(|k| see(at(k))).collect()
    }

    /// The whole of what both have, along a line that a piece of it gave.
    fn whole(&self, line: Line) -> Result<Clocks, NoMatch> {
        let middle = self.take.len() as f64 / 2.0;
        let stretch = self.both((0, self.take.len() as i64), line.value(middle));
        let seen = self.look(stretch, MOST_WINDOWS, |sample| line.value(sample as f64).round() as i64);
        let fit = best_line(&seen, REACH as f64 / 4.0).map(|(line, _)| Fitted::near(&seen, line));
        let agree = fit.as_ref().map_or(0, |f| f.agree.len());
        let needed = ((AGREEING_SHARE * seen.len() as f64).ceil() as usize).max(LEAST_AGREEING);
        let hz = f64::from(RATE_HZ);
        let estimates = fit.as_ref().filter(|_| agree >= needed).and_then(Fitted::estimates);
        let Some((fit, (offset, slope))) = fit.as_ref().zip(estimates) else {
            let film_at = Seconds(((middle + line.value(middle)) / hz).max(0.0));
            return Err(NoMatch::OtherPlaying { film_at, agree, windows: seen.len(), needed });
        };
        let covers = self.both((0, self.take.len() as i64), fit.line.value(middle));
        Ok(Clocks {
            offset_s: scaled(offset, 1.0 / hz),
            drift_ppm: scaled(slope, 1e6),
            agree,
            windows: seen.len(),
            scatter: Seconds(fit.scatter() / hz).millis(),
            covers: (Seconds(covers.0 as f64 / hz), Seconds(covers.1 as f64 / hz)),
        })
    }
}

fn scaled(mut e: Estimate, by: f64) -> Estimate {
    e.value *= by;
    e.interval.low *= by;
    e.interval.high *= by;
    e
}
