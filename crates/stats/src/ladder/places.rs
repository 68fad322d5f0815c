//! The mean and the scatter of each take once what belongs to the places of the line is taken off: a fingering that is
//! always late is no scatter. Weighted least squares of takes plus places, by turns; a take's weight is one over its
//! variance, so that loose takes blur no place for the tight ones.

/// Rounds of fitting by turns and weighing anew; ladders with every note in them need one.
const ROUNDS: usize = 4;
const TURNS: usize = 8;
/// A take's variance is shrunk to that of all takes, and a kind's to its usual ratio to the reference, as if it had been
/// seen on so many more notes.
pub(super) const PRIOR: f64 = 8.0;

/// Notes at one place in one take.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    pub(super) n: f64,
    sum: f64,
    /// Squares about their mean.
    within: f64,
}

impl Sums {
    pub(super) fn new(values: &[f64]) -> Self {
        let n = values.len() as f64;
        let sum: f64 = values.iter().sum();
        let mean = sum / n.max(1.0);
        Self { n, sum, within: values.iter().map(|v| (v - mean).powi(2)).sum() }
    }

    fn mean(&self) -> f64 {
        self.sum / self.n
    }
}

/// One take.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OfTake {
    pub(super) n: f64,
    /// With the average of all places.
    pub(super) mean: f64,
    /// Sum of squares about the means of take and place, and its degrees of freedom.
    pub(super) squares: f64,
    pub(super) df: f64,
}

/// Fits `places`, each with one sum a take, to one row a take.
pub(super) fn fit(places: &[&[Sums]], takes: usize) -> Vec<OfTake> {
    let mut out = vec![OfTake::default(); takes];
    for (t, take) in out.iter_mut().enumerate() {
        take.n = places.iter().map(|p| p[t].n).sum();
    }
    let mut weights = vec![1.0; takes];
    for _ in 0..ROUNDS {
        let levels = by_turns(places, &weights, &mut out);
        scatter(places, &weights, &levels, &mut out);
        let (squares, df) = out.iter().fold((0.0, 0.0), |(s, d), t| (s + t.squares, d + t.df));
        let pooled = squares / f64::max(df, 1.0);
        if pooled <= 0.0 {
            break;
        }
        for (w, t) in weights.iter_mut().zip(&out) {
            *w = (t.df + PRIOR) / (t.squares + PRIOR * pooled);
        }
    }
    out
}

/// The takes' means into `out`; the places' levels, whose average over all notes is 0.
fn by_turns(places: &[&[Sums]], weights: &[f64], out: &mut [OfTake]) -> Vec<f64> {
    let mut levels = vec![0.0; places.len()];
    let notes: f64 = out.iter().map(|t| t.n).sum();
    for _ in 0..TURNS {
        for (t, take) in out.iter_mut().enumerate().filter(|(_, take)| take.n > 0.0) {
            let sum: f64 = places.iter().zip(&levels).map(|(p, level)| p[t].sum - p[t].n * level).sum();
            take.mean = sum / take.n;
        }
        for (place, level) in places.iter().zip(&mut levels) {
            let (mut weighted, mut weight) = (0.0, 0.0);
            for ((s, w), take) in place.iter().zip(weights).zip(out.iter()).filter(|((s, _), _)| s.n > 0.0) {
                weighted += w * s.n * (s.mean() - take.mean);
                weight += w * s.n;
            }
            *level = if weight > 0.0 { weighted / weight } else { 0.0 };
        }
        let of_place = |p: &[Sums]| p.iter().map(|s| s.n).sum::<f64>();
        let average = places.iter().zip(&levels).map(|(p, l)| of_place(p) * l).sum::<f64>() / notes.max(1.0);
        levels.iter_mut().for_each(|l| *l -= average);
    }
    levels
}

/// What is left, take by take. A take uses up one degree of freedom for its mean and, of each place's, its share of the
/// place's weight.
fn scatter(places: &[&[Sums]], weights: &[f64], levels: &[f64], out: &mut [OfTake]) {
    let share = |of: &dyn Fn(usize) -> f64, t: usize| {
        let all: f64 = weights.iter().enumerate().map(|(k, w)| w * of(k)).sum();
        weights[t] * of(t) / all.max(f64::MIN_POSITIVE)
    };
    let counts: Vec<f64> = out.iter().map(|t| t.n).collect();
    for (t, take) in out.iter_mut().enumerate().filter(|(_, take)| take.n > 0.0) {
        let (mut squares, mut used) = (0.0, 1.0 - share(&|k| counts[k], t));
        for (place, level) in places.iter().zip(levels).filter(|(p, _)| p[t].n > 0.0) {
            squares += place[t].within + place[t].n * (place[t].mean() - take.mean - level).powi(2);
            used += share(&|k| place[k].n, t);
        }
        take.squares = squares.max(0.0);
        take.df = (take.n - used).max(0.0);
    }
}
