//! `journal trend`: one drill of one player at like tempo.

use super::{fault, filter, one_player};
use crate::args::{MetricArg, TrendArgs};
use crate::commands::score::text_style;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output;
use takegauge_journal::{CHANGES, Filter, Journal};
use takegauge_report::{Format, PlotError, Size, json, trend_plot, trend_text};
use takegauge_review::history::{LIKE_TEMPO, Metric, Series, TakePoint, WHOLE_TAKE, trend, usual_tempo};

impl From<MetricArg> for Metric {
    fn from(arg: MetricArg) -> Self {
        match arg {
            MetricArg::Spread => Self::Spread,
            MetricArg::Bias => Self::Bias,
            MetricArg::Evenness => Self::Evenness,
            MetricArg::Errors => Self::Errors,
            MetricArg::Smear => Self::Smear,
            MetricArg::Margin => Self::Margin,
            MetricArg::CleanTempo => Self::CleanTempo,
        }
    }
}

pub(crate) fn run(args: &TrendArgs, config: &Config, journal: &Journal) -> Outcome {
    let wrong = |e| fault(e, journal.path());
    let mut which = filter(&args.filter, journal)?;
    which.player = Some(one_player(args.filter.player.as_deref(), config, journal)?);
    let drill = one_drill(&mut which, journal)?;
    let every_tempo = journal.points(&which, WHOLE_TAKE).map_err(wrong)?;
    if which.tempo_bpm.is_none() {
        which.tempo_bpm = usual_tempo(&every_tempo).map(|t| [t * (1.0 - LIKE_TEMPO), t * (1.0 + LIKE_TEMPO)]);
    }
    let groups = journal.groups(&which).map_err(wrong)?;
    let label = |name: &str| groups.iter().find(|(n, ..)| n == name).map(|(_, label, _)| label.clone());
    let group = match &args.group {
        Some(g) if label(g).is_none() => {
            let names: Vec<&str> =
                groups.iter().map(|(n, ..)| n.as_str()).filter(|n| !n.starts_with("repeat")).collect();
            return Err(Fault::usage(format!("these takes have no group {g:?}"))
                .advise(format!("they have: {}", names.join(", "))));
        }
        Some(g) => g.clone(),
        None => if label(CHANGES).is_some() { CHANGES } else { WHOLE_TAKE }.to_owned(),
    };
    let of_group = journal.points(&which, &group).map_err(wrong)?;
    let whole = journal.points(&which, WHOLE_TAKE).map_err(wrong)?;
    let group_label = label(&group).unwrap_or_else(|| group.clone());
    let question: Metric = args.metric.into();
    let mut series = vec![question];
    series.extend(Metric::ALL.into_iter().filter(|m| *m != question));
    let series: Vec<Series<'_>> = series
        .into_iter()
        .filter_map(|metric| {
            // The tempo without an error is the take's, at whatever tempo it was played.
            let (name, label, points): (&str, &str, &[TakePoint]) = match metric {
                Metric::CleanTempo => (WHOLE_TAKE, "all takes, at any tempo", &every_tempo),
                // Evenness needs neighbouring notes of all kinds.
                Metric::Evenness if of_group.iter().all(|p| p.figures.evenness_ms.is_none()) => {
                    (WHOLE_TAKE, "all notes", &whole)
                }
                _ => (&group, &group_label, &of_group),
            };
            let there = metric == question || points.iter().any(|p| metric.value(p).is_some());
            there.then_some(Series { group: name, label, metric, points })
        })
        .collect();
    let report = trend(which.player.as_deref().unwrap_or(""), &drill, which.tempo_bpm, &series);
    if let Some(path) = &args.plot {
        let format = Format::of(path).map_err(|e| Fault::usage(format!("--plot {}: {e}", path.display())))?;
        match report.rows.first().map(|row| trend_plot(row, Size::default(), format)) {
            Some(Ok(bytes)) => output::write(path, &bytes)?,
            Some(Err(e @ PlotError::Nothing(_))) => eprintln!("takegauge: {e}"),
            Some(Err(e)) => return Err(Fault::usage(e)),
            None => {}
        }
    }
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes())?,
        None => output::print(&trend_text(&report, text_style()))?,
    }
    Ok(())
}

/// The one drill that passes the filter; its name.
pub(super) fn one_drill(which: &mut Filter, journal: &Journal) -> Outcome<String> {
    let wrong = |e| fault(e, journal.path());
    let rows = journal.list(which).map_err(wrong)?;
    let mut there: Vec<(String, String, usize)> = Vec::new();
    for row in rows {
        match there.iter_mut().find(|(id, ..)| *id == row.drill_id) {
            Some((_, _, n)) => *n += 1,
            None => there.push((row.drill_id, row.drill, 1)),
        }
    }
    match there.as_slice() {
        [] => Err(Fault::usage("no take passes").advise("`takegauge journal list` shows what there is")),
        [(id, name, _)] => {
            let known = journal.drills().map_err(wrong)?;
            which.drills = Some(known.iter().filter(|d| d.hash.starts_with(id)).map(|d| d.id).collect());
            Ok(name.clone())
        }
        many => {
            let list: Vec<String> = many.iter().map(|(id, name, n)| format!("{name} ({id}, {n} takes)")).collect();
            Err(Fault::usage("these takes are of several drills")
                .advise(format!("name one with --drill: {}", list.join("; "))))
        }
    }
}
