//! The JSON Schemas of the reports, from the types themselves: every field that is written, and no other.

use crate::history::{COMPARE_SCHEMA, PLAN_SCHEMA, PLAYER_SCHEMA, TASKS_SCHEMA, TREND_SCHEMA};
use crate::history::{CompareReport, PlanReport, PlayerReport, TaskList, TrendReport};
use crate::{LADDER_SCHEMA, LadderReport, SCORE_SCHEMA, SESSION_SCHEMA, ScoreReport, SessionReport};
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema};

/// The file name and the schema (2020-12) of each kind of report, as `schemas/` holds them.
pub fn schemas() -> [(&'static str, Schema); 8] {
    [
        ("score-1.json", of::<ScoreReport>(SCORE_SCHEMA)),
        ("ladder-1.json", of::<LadderReport>(LADDER_SCHEMA)),
        ("session-1.json", of::<SessionReport>(SESSION_SCHEMA)),
        ("trend-1.json", of::<TrendReport>(TREND_SCHEMA)),
        ("compare-1.json", of::<CompareReport>(COMPARE_SCHEMA)),
        ("plan-1.json", of::<PlanReport>(PLAN_SCHEMA)),
        ("journal-tasks-1.json", of::<TaskList>(TASKS_SCHEMA)),
        ("player-1.json", of::<PlayerReport>(PLAYER_SCHEMA)),
    ]
}

fn of<T: JsonSchema>(name: &str) -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize().with_transform(RecursiveTransform(closed));
    let mut schema = settings.into_generator().into_root_schema_for::<T>();
    schema.insert("$id".to_owned(), format!("urn:{}", name.replace('/', ":")).into());
    schema.insert("title".to_owned(), name.into());
    schema
}

/// An object holds what its type writes and nothing else.
fn closed(schema: &mut Schema) {
    if schema.get("type").is_some_and(|t| t == "object") && schema.get("properties").is_some() {
        schema.insert("additionalProperties".to_owned(), false.into());
    }
}
