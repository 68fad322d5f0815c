//! A loop as tablature: a line a string, the thinnest on top, the strokes below.

use takegauge_drill::{Drill, Stroke};

/// Longer lines are left to the drill file.
const MOST_NOTES: usize = 16;

/// The line once through, from the thinnest string used to the thickest; empty where it is no short loop of picked notes.
pub(crate) fn tab(drill: &Drill) -> Vec<String> {
    let grid = drill.grid();
    let once: Vec<_> = grid.iter().filter(|g| g.repeat == 0).collect();
    let strings = || once.iter().flat_map(|g| &g.fingered).map(|f| f.string);
    let (Some(thinnest), Some(thickest)) = (strings().min(), strings().max()) else { return Vec::new() };
    if once.len() > MOST_NOTES || drill.line.len() != once.len() {
        return Vec::new();
    }
    let fret = |g: &takegauge_drill::GridNote, string: u8| {
        let at = g.fingered.iter().find(|f| f.string == string)?;
        Some(if g.dead { "x".to_owned() } else { at.fret.to_string() })
    };
    let wide = |g: &&takegauge_drill::GridNote| g.fingered.iter().map(|f| f.fret.to_string().len()).max().unwrap_or(1);
    let mut lines: Vec<String> = (thinnest..=thickest)
        .map(|string| {
            let cells = once.iter().map(|g| format!("-{:-<1$}", fret(g, string).unwrap_or_default(), wide(g)));
            format!("{string} |{}-:|", cells.collect::<String>())
        })
        .collect();
    let stroke = |g: &&takegauge_drill::GridNote| match g.stroke {
        Some(Stroke::Down) => "d",
        Some(Stroke::Up) => "u",
        None => "",
    };
    let strokes: String = once.iter().map(|g| format!(" {:<1$}", stroke(g), wide(g))).collect();
    lines.push(format!("   {}", strokes.trim_end()));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::drill;

    #[test]
    fn a_loop_is_written_string_by_string_with_its_strokes() {
        let lines = tab(&drill("3:7 3:9 3:11 2:8", 3));
        assert_eq!(lines, ["2 |--------8-:|", "3 |-7-9-11---:|", "    d u d  u"].map(str::to_owned).to_vec());
        assert!(tab(&drill(&"3:7 ".repeat(17), 1)).is_empty());
    }
}
