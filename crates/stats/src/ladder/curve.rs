//! The figures of one kind against tempo, the courses they are fitted with, and the fit.
//!
//! A course is how far beyond its hinge each take lies: 0 up to the hinge, 1 at the highest tempo. With known variances
//! the mean's part of the likelihood ratio has a closed form; the scatter's is sought over a few ratios at the top.

use super::model::normal_estimate;
use super::places::PRIOR;
use crate::sample::Estimate;

/// SD by which a kind's mean differs from take to take beyond its notes' scatter, ms, before anything is known of these
/// takes: chosen by us, a quarter of what an unpractised line scatters by.
pub(super) const USUAL_SHIFT: f64 = 1.0;
/// The same for the log of its SD: 10 per cent.
pub(super) const USUAL_LOG: f64 = 0.1;
/// The usual size counts as so many degrees of freedom.
const USUAL_WEIGHT: f64 = 6.0;
/// Hinges tried between the lowest tempo and halfway between the two highest.
const HINGES: usize = 11;
/// SD at the top over the SD below the hinge.
const RATIOS: [f64; 6] = [1.0, 1.4, 2.0, 3.0, 5.0, 10.0];
/// Growing scatter counts toward the likelihood ratio only beyond this much of it, so that its chance part does not hide a
/// kind that is late alone. Chosen in simulation (examples/ladders.rs, other seeds than those of the report).
const SCATTER_FROM: f64 = 3.0;
/// Figures that a fit uses up beside the hinge's place: level and slope. The hinge itself counts as one more.
const USED: f64 = 3.0;

/// Variances between takes: of the mean, of the log SD.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spare {
    pub(super) shift: f64,
    pub(super) log: f64,
}

impl Spare {
    /// Before anything is known of these takes.
    pub(super) fn usual() -> Self {
        Self { shift: USUAL_SHIFT * USUAL_SHIFT, log: USUAL_LOG * USUAL_LOG }
    }
}

/// A kind, take by take. Takes without it have infinite variances.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub(super) shift: Vec<f64>,
    pub(super) shift_variance: Vec<f64>,
    pub(super) log: Vec<f64>,
    pub(super) log_variance: Vec<f64>,
    /// Variance of a note where nothing comes apart.
    pub(super) note_variance: Vec<f64>,
    /// Notes of the kind and of its reference.
    pub(super) n: Vec<[f64; 2]>,
    /// Degrees of freedom of their scatter.
    pub(super) df: Vec<[f64; 2]>,
    /// Log of its SD over the reference's, over all takes.
    pub(super) base_log: f64,
    pub(super) notes: usize,
}

impl Curve {
    pub(super) fn empty(takes: usize, notes: usize, base_log: f64) -> Self {
        Self {
            shift: vec![0.0; takes],
            shift_variance: vec![f64::INFINITY; takes],
            log: vec![0.0; takes],
            log_variance: vec![f64::INFINITY; takes],
            note_variance: vec![0.0; takes],
            n: vec![[0.0; 2]; takes],
            df: vec![[0.0; 2]; takes],
            base_log,
            notes,
        }
    }

    /// The lateness at the top, from the middle tempo on, at which the likelihood ratio exceeds `critical` with a chance
    /// of 80 %: its root is about normal with SD 1.
    pub(super) fn could_show(&self, grid: &Grid, spare: Spare, critical: f64) -> Option<f64> {
        let w = weights(&self.shift_variance, spare.shift);
        let line = Line::new(&w, &self.shift, grid.middle());
        let df = self.freedom();
        let square = if df.is_finite() { df * (critical.max(0.0) / df).exp_m1() } else { critical.max(0.0) };
        let needed = square.sqrt() + 0.842;
        (line.information > 0.0 && needed.is_finite()).then(|| needed / line.information.sqrt())
    }

    /// Degrees of freedom behind the variance of its mean; infinite where that is known.
    fn freedom(&self) -> f64 {
        let df: f64 = self.df.iter().map(|d| d[0]).sum();
        if df > 0.0 { df + PRIOR } else { f64::INFINITY }
    }

    /// Twice the log likelihood ratio of a line whose squared distance from level is `square` in units of its variance,
    /// where that variance is estimated too: kinds of few notes are not taken for surer than they are.
    pub(super) fn shift_ratio(&self, square: f64) -> f64 {
        let df = self.freedom();
        if df.is_finite() { df * (square / df).ln_1p() } else { square }
    }

    /// The mean over all takes.
    pub(super) fn level(&self, spare: Spare) -> Option<Estimate> {
        let w = weights(&self.shift_variance, spare.shift);
        let total: f64 = w.iter().sum();
        let mean = w.iter().zip(&self.shift).map(|(w, d)| w * d).sum::<f64>() / total;
        (total > 0.0 && mean.is_finite()).then(|| normal_estimate(mean, 1.0 / total, self.notes))
    }
}

pub(super) fn weights(variance: &[f64], spare: f64) -> Vec<f64> {
    variance.iter().map(|v| 1.0 / (v + spare)).collect()
}

/// The courses tried.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    /// Distinct tempos, rising.
    pub(super) tempos: Vec<f64>,
    /// The tempo of each take.
    pub(super) of_take: Vec<f64>,
    /// One a course, one a take: how far beyond the hinge.
    courses: Vec<Vec<f64>>,
    /// One a course, one a ratio, one a take.
    growths: Vec<Vec<Vec<Growth>>>,
}

impl Grid {
    pub(super) fn new(of_take: &[f64]) -> Self {
        let mut tempos = of_take.to_vec();
        tempos.sort_by(f64::total_cmp);
        tempos.dedup();
        let mut grid = Self { tempos, of_take: of_take.to_vec(), courses: Vec::new(), growths: Vec::new() };
        if grid.tempos.len() < 3 {
            return grid;
        }
        let (low, high) = grid.range();
        for h in 0..=HINGES {
            grid.courses.push(grid.ramp(low + (high - low) * h as f64 / HINGES as f64));
        }
        // A step before the last tempo alone is the ramp that begins there.
        for k in 0..grid.tempos.len() - 2 {
            grid.courses.push(grid.step(k));
        }
        let growth = |course: &Vec<f64>, ratio: f64| course.iter().map(|f| Growth::new(*f, ratio)).collect();
        grid.growths = grid.courses.iter().map(|c| RATIOS.iter().map(|r| growth(c, *r)).collect()).collect();
        grid
    }

    pub(super) fn levels(&self) -> usize {
        self.tempos.len()
    }

    /// At how many tempos a take is that has it.
    pub(super) fn levels_with(&self, has: impl Fn(usize) -> bool) -> usize {
        let at = |t: &&f64| (0..self.of_take.len()).any(|k| self.of_take[k] == **t && has(k));
        self.tempos.iter().filter(at).count()
    }

    /// Hinges from the lowest tempo to halfway between the two highest.
    pub(super) fn range(&self) -> (f64, f64) {
        let n = self.tempos.len();
        (self.tempos[0], 0.5 * (self.tempos[n - 2] + self.tempos[n - 1]))
    }

    pub(super) fn ramp(&self, hinge: f64) -> Vec<f64> {
        let top = self.tempos[self.tempos.len() - 1];
        self.of_take.iter().map(|x| ((x - hinge) / (top - hinge)).max(0.0)).collect()
    }

    /// All at once between tempo `k` and the next.
    pub(super) fn step(&self, k: usize) -> Vec<f64> {
        self.of_take.iter().map(|x| f64::from(u8::from(*x > self.tempos[k]))).collect()
    }

    /// From the middle tempo on.
    fn middle(&self) -> Vec<f64> {
        self.ramp(self.tempos[(self.tempos.len() - 1) / 2])
    }
}

/// Scatter of a take over that below the hinge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth {
    /// Its log.
    log: f64,
    /// One over its square.
    inverse_square: f64,
}

impl Growth {
    /// At `beyond` of the way to the top, where it is `ratio`: in a straight line.
    pub(super) fn new(beyond: f64, ratio: f64) -> Self {
        let times = 1.0 + (ratio - 1.0) * beyond;
        Self { log: times.ln(), inverse_square: 1.0 / (times * times) }
    }

    /// The same by an independent error that grows in a straight line: variances add.
    pub(super) fn added(beyond: f64, ratio: f64) -> Self {
        let square = 1.0 + (ratio * ratio - 1.0) * beyond * beyond;
        Self { log: 0.5 * square.ln(), inverse_square: 1.0 / square }
    }
}

/// Weighted least squares of level and slope.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub(super) level: f64,
    pub(super) slope: f64,
    /// One over the slope's variance.
    pub(super) information: f64,
    /// Squared distance from level in units of its variance; 0 where the slope leads back toward the reference.
    pub(super) square: f64,
}

impl Line {
    pub(super) fn new(w: &[f64], y: &[f64], course: impl AsRef<[f64]>) -> Self {
        let [mut sw, mut sf, mut sff, mut sy, mut sfy] = [0.0; 5];
        for ((w, y), f) in w.iter().zip(y).zip(course.as_ref()) {
            let wf = w * f;
            sw += w;
            sf += wf;
            sff += wf * f;
            sy += w * y;
            sfy += wf * y;
        }
        let information = sff - sf * sf / sw;
        // Also where no take is weighted.
        if information.is_nan() || information <= 1e-9 * sff {
            return Self { level: if sw > 0.0 { sy / sw } else { 0.0 }, slope: 0.0, information: 0.0, square: 0.0 };
        }
        let slope = (sfy - sf * sy / sw) / information;
        let level = (sy - slope * sf) / sw;
        let away = (level + slope).abs() > level.abs();
        Self { level, slope, information, square: if away { slope * slope * information } else { 0.0 } }
    }
}

/// What is known of the scatter, take by take.
#[derive(Debug, Clone)]
pub(super) struct TakeScatters {
    /// Degrees of freedom that variances between takes leave, and variance against the reference.
    takes: Vec<[f64; 2]>,
    df: f64,
    level: f64,
}

impl TakeScatters {
    /// A log variance of `v` is worth 1 / (2 v) degrees of freedom.
    pub(super) fn new(curve: &Curve, spare: f64) -> Self {
        let take = |(log, v): (&f64, &f64)| {
            if v.is_finite() { [0.5 / (v + spare), (2.0 * log).exp()] } else { [0.0, 0.0] }
        };
        let takes: Vec<[f64; 2]> = curve.log.iter().zip(&curve.log_variance).map(take).collect();
        let df = takes.iter().map(|t| t[0]).sum();
        let mut scatter = Self { takes, df, level: 0.0 };
        scatter.level = scatter.log_mean(|_| 1.0);
        scatter
    }

    fn log_mean(&self, inverse_square: impl Fn(usize) -> f64) -> f64 {
        let squares: f64 = self.takes.iter().enumerate().map(|(t, [df, s])| df * s * inverse_square(t)).sum();
        if self.df > 0.0 { (squares / self.df).max(f64::MIN_POSITIVE).ln() } else { 0.0 }
    }

    /// Log of the scatter below the hinge.
    fn base(&self, growth: &[Growth]) -> f64 {
        0.5 * self.log_mean(|t| growth[t].inverse_square)
    }

    /// Twice the log likelihood of this growth over none, with the base at its best.
    pub(super) fn ratio(&self, growth: &[Growth]) -> f64 {
        let logs: f64 = self.takes.iter().zip(growth).map(|([df, _], g)| df * g.log).sum();
        self.df * (self.level - self.log_mean(|t| growth[t].inverse_square)) - 2.0 * logs
    }
}

/// The best course of a kind.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    pub(super) ratio: f64,
    course: usize,
    growth: usize,
}

/// The best course with known variances between takes.
pub(super) fn fit_with(grid: &Grid, curve: &Curve, spare: Spare) -> Fit {
    let (wd, scatter) = (weights(&curve.shift_variance, spare.shift), TakeScatters::new(curve, spare.log));
    let mut best = Fit { ratio: f64::MIN, course: 0, growth: 0 };
    for (course, (shape, growths)) in grid.courses.iter().zip(&grid.growths).enumerate() {
        let shift = curve.shift_ratio(Line::new(&wd, &curve.shift, shape).square);
        let mut wide = (0.0, 0);
        for (k, g) in growths.iter().enumerate().skip(1) {
            let ratio = scatter.ratio(g);
            // The ratio has one maximum over the growths.
            if ratio <= wide.0 {
                break;
            }
            wide = (ratio, k);
        }
        let ratio = shift + counted(wide.0);
        if ratio > best.ratio {
            best = Fit { ratio, course, growth: wide.1 };
        }
    }
    best
}

/// The likelihood ratio of a course that was chosen before, with other variances between takes.
fn again(grid: &Grid, curve: &Curve, spare: Spare, fit: Fit) -> Fit {
    let wd = weights(&curve.shift_variance, spare.shift);
    let shift = curve.shift_ratio(Line::new(&wd, &curve.shift, &grid.courses[fit.course]).square);
    let wide = TakeScatters::new(curve, spare.log).ratio(&grid.growths[fit.course][fit.growth]);
    Fit { ratio: shift + counted(wide), ..fit }
}

/// How much likelier it is, as twice a log ratio, that the whole of `part` and `rest` moves as `whole` was fitted than
/// that the part moves by itself, as it was fitted, and the rest stays level.
pub(super) fn whole_over_part(
    grid: &Grid,
    spare: Spare,
    whole: (&Curve, Fit),
    part: (&Curve, Fit),
    rest: &Curve,
) -> f64 {
    let slope = |(curve, fit): (&Curve, Fit)| {
        Line::new(&weights(&curve.shift_variance, spare.shift), &curve.shift, &grid.courses[fit.course]).slope
    };
    let gain = |curve: &Curve, fit: Fit, slope: f64| {
        let line = Line::new(&weights(&curve.shift_variance, spare.shift), &curve.shift, &grid.courses[fit.course]);
        let squared = |distance: f64| curve.shift_ratio(distance * distance * line.information);
        let wide = TakeScatters::new(curve, spare.log).ratio(&grid.growths[fit.course][fit.growth]);
        squared(line.slope) - squared(slope - line.slope) + wide
    };
    let of_whole = slope(whole);
    gain(part.0, whole.1, of_whole) + gain(rest, whole.1, of_whole) - gain(part.0, part.1, slope(part))
}

/// What of the scatter's likelihood ratio counts.
fn counted(wide: f64) -> f64 {
    (wide - SCATTER_FROM).max(0.0)
}

/// Fits all kinds: first with the usual variances between takes, then with those that the fits leave.
pub(super) fn fit_all(grid: &Grid, curves: &[&Curve], overlap: f64) -> (Vec<Fit>, Spare) {
    let usual = Spare::usual();
    let first: Vec<Fit> = curves.iter().map(|c| fit_with(grid, c, usual)).collect();
    let spare = left_between(grid, curves, &first, overlap);
    (curves.iter().zip(&first).map(|(c, f)| again(grid, c, spare, *f)).collect(), spare)
}

/// The variances between takes that the fits leave over: where the weighted squares are as many as their degrees of
/// freedom (Paule and Mandel 1982, J. Res. Natl. Bur. Stand. 87:377), the usual size counted in.
fn left_between(grid: &Grid, curves: &[&Curve], fits: &[Fit], overlap: f64) -> Spare {
    let mut shift = Vec::new();
    let mut log = Vec::new();
    let (mut shift_df, mut log_df) = (0.0, 0.0);
    let usual = Spare::usual();
    for (curve, fit) in curves.iter().zip(fits) {
        let wd = weights(&curve.shift_variance, usual.shift);
        let line = Line::new(&wd, &curve.shift, &grid.courses[fit.course]);
        let before = shift.len();
        for (t, f) in grid.courses[fit.course].iter().enumerate().filter(|(t, _)| wd[*t] > 0.0) {
            shift.push(((curve.shift[t] - line.level - line.slope * f).powi(2), curve.shift_variance[t]));
        }
        shift_df += ((shift.len() - before) as f64 - USED).max(0.0);
        let wl = weights(&curve.log_variance, usual.log);
        let growth = &grid.growths[fit.course][fit.growth];
        let base = TakeScatters::new(curve, usual.log).base(growth);
        let before = log.len();
        for t in (0..wl.len()).filter(|t| wl[*t] > 0.0) {
            log.push(((curve.log[t] - base - growth[t].log).powi(2), curve.log_variance[t]));
        }
        log_df += ((log.len() - before) as f64 - USED).max(0.0);
    }
    Spare { shift: between(&shift, shift_df, overlap, usual.shift), log: between(&log, log_df, overlap, usual.log) }
}

/// Solves for the variance; `squares` are squared residuals with their own variances, each counted `overlap` times.
fn between(squares: &[(f64, f64)], df: f64, overlap: f64, usual: f64) -> f64 {
    let excess = |spare: f64| {
        let seen: f64 = squares.iter().map(|(r, v)| r / (v + spare)).sum();
        (seen - df) / overlap + USUAL_WEIGHT * (usual / spare - 1.0)
    };
    let (mut low, mut high) = (1e-3 * usual, 1e4 * usual);
    for _ in 0..40 {
        let middle = (low * high).sqrt();
        if excess(middle) > 0.0 { low = middle } else { high = middle }
    }
    (low * high).sqrt()
}
