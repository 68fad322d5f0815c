//! Whose playing it is: one player under whatever spellings.
//!
//! "Ada", "ada" and " ADA " are one player, "Zoë" in one character or two as well (Unicode, canonical caseless match,
//! D145; runs of blanks count as one). Each take keeps the spelling that it was added with, so that nothing is lost where
//! spellings are joined; everywhere a player is named it is by the spelling that most takes have, of equals the one used
//! last.

use rusqlite::{Connection, params};
use std::collections::BTreeMap;
use unicase::UniCase;
use unicode_normalization::UnicodeNormalization;

/// A name without blanks around it and with one blank where several are.
pub fn tidy_name(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What all spellings of one player have in common.
pub fn player_key(name: &str) -> String {
    let apart: String = tidy_name(name).nfd().collect();
    UniCase::unicode(apart).to_folded_case().nfd().collect()
}

/// The row of this very spelling, made where it is not there.
pub(crate) fn spelling(db: &Connection, name: &str) -> rusqlite::Result<i64> {
    db.prepare_cached("INSERT INTO player (name, key) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING")?
        .execute(params![name, player_key(name)])?;
    db.prepare_cached("SELECT id FROM player WHERE name = ?1")?.query_row([name], |r| r.get(0))
}

/// Gives the players of a file of an earlier format their keys.
pub(crate) fn fill(db: &Connection) -> rusqlite::Result<()> {
    let mut query = db.prepare("SELECT id, name FROM player")?;
    let all = query.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?.collect::<rusqlite::Result<Vec<(i64, String)>>>()?;
    for (id, name) in all {
        db.execute("UPDATE player SET key = ?2 WHERE id = ?1", params![id, player_key(&name)])?;
    }
    Ok(())
}

/// How each player is called, by key.
#[derive(Debug, Clone, Default)]
pub(crate) struct Names(BTreeMap<String, String>);

impl Names {
    pub(crate) fn read(db: &Connection) -> rusqlite::Result<Self> {
        let mut query = db.prepare_cached(
            "SELECT p.key, p.name, (SELECT count(*) FROM take t WHERE t.player = p.id),
               (SELECT max(t.recorded_ms) FROM take t WHERE t.player = p.id) FROM player p
             WHERE EXISTS (SELECT 1 FROM take t WHERE t.player = p.id) OR EXISTS (SELECT 1 FROM task k WHERE k.player = p.id)",
        )?;
        // Most takes, then the latest; where a player has tasks alone, whichever spelling sorts first.
        let mut best: BTreeMap<String, (i64, Option<i64>, String)> = BTreeMap::new();
        let rows = query.query_map([], |r| {
            Ok((r.get::<_, String>(0)?, (r.get::<_, i64>(2)?, r.get::<_, Option<i64>>(3)?, r.get::<_, String>(1)?)))
        })?;
        for row in rows {
            let (key, this) = row?;
            let rank = |of: &(i64, Option<i64>, String)| (of.0, of.1);
            match best.get(&key) {
                Some(there) if rank(there) > rank(&this) || (rank(there) == rank(&this) && there.2 <= this.2) => {}
                _ => drop(best.insert(key, this)),
            }
        }
        Ok(Self(best.into_iter().map(|(key, (_, _, name))| (key, tidy_name(&name))).collect()))
    }

    /// How the player of this spelling is called; as it is spelt where the journal knows nobody of it.
    pub(crate) fn of(&self, name: &str) -> String {
        self.0.get(&player_key(name)).cloned().unwrap_or_else(|| tidy_name(name))
    }

    /// How the player of this key is called.
    pub(crate) fn of_key(&self, key: &str, name: &str) -> String {
        self.0.get(key).cloned().unwrap_or_else(|| tidy_name(name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn spellings_of_one_name_are_one_and_other_names_are_not() {
        for same in [
            &["Ada", "ada", " ADA ", "aDa\u{a0}"][..],
            &["Zo\u{eb}", "zoe\u{308}", "ZO\u{cb}"],
            &["Ada  Strauß", "ada strauss", "ADA STRAUSS"],
            &["ΟΔΟΣ", "οδος", "οδοσ"],
        ] {
            let keys: Vec<String> = same.iter().map(|n| player_key(n)).collect();
            assert!(keys.iter().all(|k| *k == keys[0]), "{same:?}: {keys:?}");
        }
        let apart = ["Ada", "Ada B.", "Ad a", "Zoe", "Zoë", "Işıl", "Isil", "Bo"];
        let keys: std::collections::BTreeSet<String> = apart.iter().map(|n| player_key(n)).collect();
        assert_eq!(keys.len(), apart.len(), "{keys:?}");
    }

    proptest! {
        #[test]
        fn a_key_is_its_own_and_holds_whatever_the_case(name in "\\PC{0,20}") {
            let key = player_key(&name);
            prop_assert_eq!(&player_key(&key), &key);
            prop_assert_eq!(&player_key(&format!("  {name}\t")), &key);
            prop_assert_eq!(&player_key(&tidy_name(&name)), &key);
            // Upper case of a few letters is another letter's (dotless i): then the names were not one to begin with.
            let upper = name.to_uppercase();
            if upper.is_ascii() && name.is_ascii() {
                prop_assert_eq!(&player_key(&upper), &key);
            }
        }
    }
}
