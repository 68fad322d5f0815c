//! Questions about one player: what was set, and all of it at a glance.

use crate::ask::{lines_of, played};
use crate::error::Result;
use crate::journal::Journal;
use crate::model::{Filter, TaskRow};
use crate::when::Day;
use std::collections::BTreeMap;
use takegauge_review::history::{Dated, PlayedDrill, PlayerReport, SetTask, TaskLine, player, tasks};

fn dated(day: Day) -> Dated {
    Dated { day: day.0, date: day.to_string() }
}

impl Journal {
    /// The tasks of the players and drills that a filter lets through; its other parts do not count. Each with the player's
    /// takes of its drill, at whatever tempo and however often through.
    pub(crate) fn set_tasks(&self, which: &Filter) -> Result<Vec<SetTask>> {
        let drills: Vec<(i64, String)> = self.drills()?.iter().map(|d| (d.id, d.line())).collect();
        let of_these = |ids: &Vec<i64>| -> Vec<&String> {
            drills.iter().filter(|(id, _)| ids.contains(id)).map(|(_, line)| line).collect()
        };
        let asked = which.drills.as_ref().map(of_these);
        let mut all = Vec::new();
        for TaskRow { task, record, drill } in self.tasks(which.player.as_deref())? {
            let line = record.drill.as_deref().map(played);
            if asked.as_ref().is_some_and(|asked| line.as_ref().is_none_or(|line| !asked.contains(&line))) {
                continue;
            }
            let takes = match &line {
                Some(line) => {
                    let ids = drills.iter().filter(|(_, of)| of == line).map(|(id, _)| *id).collect();
                    let player = Some(record.player.clone());
                    self.findings(&Filter { player, drills: Some(ids), ..Filter::default() })?
                }
                None => Vec::new(),
            };
            all.push(SetTask {
                task,
                player: record.player,
                words: record.what,
                drill,
                tempo_bpm: record.tempo_bpm,
                set: dated(record.set),
                due: record.due.map(dated),
                done: record.done.map(dated),
                takes,
            });
        }
        Ok(all)
    }

    /// The tasks of a player, or all, as of `today`: the most urgent first, those ticked off last.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn task_lines(&self, player: Option<&str>, today: Day) -> Result<Vec<TaskLine>> {
        let which = Filter { player: player.map(str::to_owned), ..Filter::default() };
        Ok(tasks(&self.set_tasks(&which)?, today.0))
    }

    /// One player at a glance, as of `today`; takes of later days do not count.
    ///
    /// # Errors
    /// [`crate::JournalError::Damaged`], [`crate::JournalError::Busy`].
    pub fn player(&self, name: &str, today: Day) -> Result<PlayerReport> {
        let which = Filter { player: Some(name.to_owned()), ..Filter::default() };
        let known = self.drills()?;
        let lines = lines_of(&known);
        // Takes of drills that differ in tempo or repeats alone are takes of one, called as it was last.
        let mut takes: BTreeMap<String, (String, Vec<i64>)> = BTreeMap::new();
        for row in self.list(&which)?.into_iter().filter(|r| r.day <= today) {
            let line = lines.get(row.drill_id.as_str()).cloned().unwrap_or(row.drill_id);
            let (name, ids) = takes.entry(line).or_default();
            *name = row.drill;
            ids.push(row.take);
        }
        let mut found: BTreeMap<i64, _> = self.findings(&which)?.into_iter().map(|t| (t.take, t)).collect();
        let drills: Vec<PlayedDrill> = takes
            .into_values()
            .map(|(drill, ids)| PlayedDrill { drill, takes: ids.iter().filter_map(|id| found.remove(id)).collect() })
            .collect();
        let next = self.plan(&which, today)?.lines;
        let set = self.task_lines(Some(name), today)?;
        Ok(player(&self.player_name(name)?, &drills, set, next, (today.0, &today.to_string())))
    }
}
