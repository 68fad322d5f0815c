//! The way from attacks to passes, in order.

use crate::click::Click;
use crate::cost::{Costs, Rates};
use crate::line::Line;
use crate::model::{AlignError, Alignment, Options, Pass, Status, TempoFrom, Timebase};
use crate::passes::{Portion, Take, enough, portions};
use crate::pitch::transpositions;
use crate::refit::refit_pass;
use crate::tempo::{Looks, Run, Sought};
use crate::tuning::passes::{ATTACKS_A_NOTE, BEGUN_ANEW, FINISHES_WITH, LONG, LONG_NOTES, PLAYED_ONE_IN, WORST_SOUND};
use crate::tuning::tempo::{LOOKS, NAMED};
use takegauge_drill::{Drill, GridNote};
use takegauge_stats::robust::upper_median;
use takegauge_units::{Attack, Bpm, SampleRate};

/// Finds every pass of the drill among the attacks of a take, in order of their time.
///
/// `attacks` may hold faint ones (strength below 1): they are taken for notes where one is missing, and are no
/// extras but [`Alignment::faint`].
/// `grid` is the drill's own, all repeats.
///
/// # Errors
/// [`AlignError`]: nothing heard, an empty grid, a click without beats, another drill.
pub fn align(
    attacks: &[Attack],
    rate: SampleRate,
    grid: &[GridNote],
    drill: &Drill,
    options: &Options,
) -> Result<Alignment, AlignError> {
    align_told(attacks, rate, grid, drill, options, &mut |_| true)
}

/// As [`align`], told on the way: `told` hears, now and then, what share of the looks that the longest search takes were
/// taken (0 to 1), and answers whether to go on.
///
/// # Errors
/// As [`align`]; [`AlignError::Stopped`] once `told` has answered no.
pub fn align_told(
    attacks: &[Attack],
    rate: SampleRate,
    grid: &[GridNote],
    drill: &Drill,
    options: &Options,
    told: &mut dyn FnMut(f64) -> bool,
) -> Result<Alignment, AlignError> {
    through(attacks, rate, grid, drill, options, told).map(|(alignment, _)| alignment)
}

/// The cost of the reading that explains a take best, and its transposition; `None` where there is no reading.
pub(crate) fn explained(
    attacks: &[Attack],
    rate: SampleRate,
    grid: &[GridNote],
    drill: &Drill,
    options: &Options,
) -> Option<(f64, i32)> {
    through(attacks, rate, grid, drill, options, &mut |_| true).ok().map(|(_, explained)| explained)
}

/// The passes, and the cost and transposition of the reading that they come from.
fn through(
    attacks: &[Attack],
    rate: SampleRate,
    grid: &[GridNote],
    drill: &Drill,
    options: &Options,
    told: &mut dyn FnMut(f64) -> bool,
) -> Result<(Alignment, (f64, i32)), AlignError> {
    let line = Line::fold(grid, drill).ok_or(AlignError::EmptyGrid)?;
    if !attacks.iter().any(|a| a.strength >= 1.0) {
        return Err(AlignError::NothingHeard);
    }
    let click = match &options.timebase {
        Timebase::Steady => None,
        Timebase::Click(beats) => Some(Click::new(beats, drill)?),
    };
    let seconds: Vec<f64> = attacks.iter().map(|a| a.at.seconds(rate).0).collect();
    let mut share = |looks: usize| told((looks as f64 / LOOKS as f64).min(1.0));
    let looks = Looks::new(&mut share);
    let (cost, transpose, runs) = runs(attacks, &seconds, &line, drill, options, click.as_ref(), &looks);
    if looks.stopped() {
        return Err(AlignError::Stopped);
    }
    let take = Take { attacks, seconds: &seconds, grid, drill, transpose };
    Ok((assemble(&take, &line, &runs, click.as_ref())?, (cost, transpose)))
}

/// The runs through the line, each matched to its notes for good, at the transposition that explains them best; before
/// them what they cost in all, and that transposition.
fn runs(
    attacks: &[Attack],
    seconds: &[f64],
    line: &Line,
    drill: &Drill,
    options: &Options,
    click: Option<&Click>,
    looks: &Looks<'_>,
) -> (f64, i32, Vec<Run>) {
    let times: Vec<f64> = match click {
        Some(c) => seconds.iter().map(|t| c.drill_time(*t)).collect(),
        None => seconds.to_vec(),
    };
    let named = match click {
        Some(_) => vec![(TempoFrom::Click, 1.0)],
        None => named(drill, options),
    };
    let free = click.is_none().then_some(drill.tempo.0);
    let mut best: Option<(f64, i32, Vec<Run>)> = None;
    for by in transpositions(attacks, line) {
        let costs = Costs::new(attacks, times.clone(), line, by);
        let poor = costs.clone().at_rates(Rates::poor());
        looks.forget();
        let mut sought = Sought {
            costs: &costs,
            line,
            named: named.clone(),
            free,
            enough: enough(line),
            poor: &poor,
            looked_at: looks,
        };
        let (mut cost, mut runs) = sought.explain();
        if runs.is_empty() {
            sought.costs = &poor;
            (cost, runs) = sought.explain();
        }
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, by, runs));
        }
    }
    best.unwrap_or((0.0, 0, Vec::new()))
}

/// Tempi known before listening, the user's first; each once.
fn named(drill: &Drill, options: &Options) -> Vec<(TempoFrom, f64)> {
    let all: [_; NAMED] = [
        (TempoFrom::Given, options.tempo),
        (TempoFrom::FileName, options.tempo_in_name),
        (TempoFrom::Drill, Some(drill.tempo)),
    ];
    let mut named: Vec<(TempoFrom, f64)> = Vec::new();
    for (from, tempo) in all {
        let Some(Bpm(bpm)) = tempo.filter(|t| t.0.is_finite() && t.0 > 0.0) else { continue };
        let rate = drill.tempo.0 / bpm;
        if !named.iter().any(|n| (n.1 / rate - 1.0).abs() < 1e-6) {
            named.push((from, rate));
        }
    }
    named
}

/// Passes, extras and stretches set aside, or that the take is something else.
fn assemble(take: &Take, line: &Line, runs: &[Run], click: Option<&Click>) -> Result<Alignment, AlignError> {
    let all = portions(runs, line);
    let (mut kept, mut dropped): (Vec<&Portion>, Vec<&Portion>) = (Vec::new(), Vec::new());
    let mut passes: Vec<Pass> = Vec::new();
    let mut covered = 0;
    let mut off_the_bar = false;
    for (k, portion) in all.iter().enumerate() {
        let beat = click.map(|c| {
            let starts =
                portion.links.iter().map(|l| c.drill_time(take.seconds[l.attack]) - take.grid[l.note].expected.0);
            c.nearest_beat(upper_median(starts).unwrap_or_default())
        });
        let mut pass = take.pass(portion, beat);
        refit_pass(&mut pass, take.grid, take.drill, click);
        let played = pass.notes.iter().filter(|n| n.status == Status::Played).count();
        covered = covered.max(played);
        let again = all.get(k + 1).is_some_and(|next| begun_again(portion, next, line));
        if !again && runs[portion.run].sound < WORST_SOUND && is_pass(portion, played, passes.last(), line) {
            off_the_bar |= beat.zip(click).is_some_and(|(b, c)| b.rem_euclid(c.beats_per_bar) != 0);
            passes.push(pass);
            kept.push(portion);
        } else {
            dropped.push(portion);
        }
    }
    // Half the attacks explained, or one pass too long for chance, in a take that may hold much else.
    let notes: usize = kept.iter().map(|p| p.links.len()).sum();
    let heard = take.attacks.iter().filter(|a| a.strength >= 1.0).count();
    let long = kept.iter().any(|p| p.links.len() >= LONG * enough(line).max(LONG_NOTES));
    if passes.is_empty() || (ATTACKS_A_NOTE * notes < heard && !long) {
        return Err(AlignError::NoFit { covered, notes: take.grid.len() });
    }
    let (extra, faint) = take.extras(&kept, line);
    let set_aside = take.set_aside(&kept, &dropped, &extra);
    let tempo_from = kept.iter().max_by_key(|p| p.links.len()).map_or(TempoFrom::Drill, |p| runs[p.run].from);
    let mut remarks = Vec::new();
    if off_the_bar {
        remarks.push("a pass starts on a beat of the click that begins no bar".to_owned());
    }
    if tempo_from == TempoFrom::Sought {
        remarks.push("the tempo was found from the playing alone: it is far from every tempo named".to_owned());
    }
    if take.transpose != 0 {
        remarks.push(format!(
            "the guitar sounds {} semitone{} {} than the drill asks; pitches are judged after taking that off",
            take.transpose.abs(),
            if take.transpose.abs() == 1 { "" } else { "s" },
            if take.transpose > 0 { "higher" } else { "lower" }
        ));
    }
    Ok(Alignment { passes, extra, faint, set_aside, cents_off: 100.0 * f64::from(take.transpose), tempo_from, remarks })
}

/// Whether a portion is a start that broke off within the first time through the line, before the drill was begun anew
/// and brought further: no pass, however near to the line's end it came.
fn begun_again(portion: &Portion, next: &Portion, line: &Line) -> bool {
    let reached = |p: &Portion| p.last + 1 - p.first;
    let whole = line.per_line.min(line.per_drill.saturating_sub(1));
    portion.first == 0 && next.first == 0 && reached(portion) < whole && BEGUN_ANEW * reached(portion) <= reached(next)
}

/// Whether a portion is a pass: half the line reached, or the drill brought to its end from before where the pass
/// before broke off; and more of it played than not.
fn is_pass(portion: &Portion, played: usize, before: Option<&Pass>, line: &Line) -> bool {
    let reached = portion.last + 1 - portion.first;
    let broke_off = before.and_then(|p| p.notes.iter().rposition(|n| n.status != Status::NotReached));
    let finishes = portion.last + 1 == line.per_drill
        && reached >= FINISHES_WITH
        && broke_off.is_some_and(|b| b + 1 < line.per_drill && portion.first <= b + 1 && portion.last > b);
    PLAYED_ONE_IN * played >= reached && (reached >= enough(line) || finishes)
}
