//! The figures of one group of notes, as the declarations name them.

use crate::declared::{EXTRA, FlatColumn, GroupFigure, MISSED, Part, WRONG_PITCH, declared};
use crate::value::Value;
use serde::de::{IgnoredAny, MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
#[cfg(feature = "schemas")]
use {
    schemars::{JsonSchema, Schema, SchemaGenerator, json_schema},
    serde_json::json,
    std::borrow::Cow,
};

/// The figures of a group of notes in one take. What a report from before a figure was declared does not say is withheld.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures(Vec<Value>);

impl Default for Figures {
    fn default() -> Self {
        Self(vec![Value::default(); declared().len()])
    }
}

fn place(figure: &GroupFigure) -> Option<usize> {
    declared().iter().position(|f| *f == figure)
}

impl Figures {
    /// Each figure as this has it.
    pub fn each(of: impl Fn(&'static GroupFigure) -> Value) -> Self {
        Self(declared().iter().map(|f| of(f)).collect())
    }

    /// Sets one figure.
    pub fn set(&mut self, figure: &GroupFigure, value: Value) {
        if let Some(slot) = place(figure).and_then(|k| self.0.get_mut(k)) {
            *slot = value;
        }
    }

    /// The same with one figure set.
    #[must_use]
    pub fn with(mut self, figure: &GroupFigure, value: Value) -> Self {
        self.set(figure, value);
        self
    }

    /// A figure with its interval.
    pub fn get(&self, figure: &GroupFigure) -> Value {
        place(figure).and_then(|k| self.0.get(k)).copied().unwrap_or_default()
    }

    /// A figure.
    pub fn value(&self, figure: &GroupFigure) -> Option<f64> {
        self.get(figure).value
    }

    /// A count; 0 where it is not known.
    pub fn count(&self, figure: &GroupFigure) -> usize {
        // A count was one before it became a number.
        self.value(figure).map_or(0, |v| v as usize)
    }

    /// Both ends of an interval.
    pub fn interval(&self, figure: &GroupFigure) -> Option<[f64; 2]> {
        let v = self.get(figure);
        Some([v.low?, v.high?])
    }

    /// Both ends, the lower `None` where the interval reaches 0.
    pub fn ends(&self, figure: &GroupFigure) -> Option<[Option<f64>; 2]> {
        let v = self.get(figure);
        (v.low.is_some() || v.high.is_some()).then_some([v.low, v.high])
    }

    /// A column of a table of numbers.
    pub fn flat(&self, column: FlatColumn) -> Option<f64> {
        let v = self.get(column.figure);
        match column.part {
            Part::Value => v.value,
            Part::Low => v.low,
            Part::High => v.high,
        }
    }

    /// Missed, wrong and extra together.
    pub fn errors(&self) -> usize {
        self.count(&MISSED) + self.count(&WRONG_PITCH) + self.count(&EXTRA)
    }
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut map = s.serialize_map(None)?;
        for (figure, v) in declared().iter().zip(&self.0) {
            if figure.is_count {
                map.serialize_entry(figure.key, &v.value.map(|n| n as u64))?;
            } else {
                map.serialize_entry(figure.key, &v.value)?;
            }
            if !figure.interval_key.is_empty() {
                map.serialize_entry(figure.interval_key, &self.ends(figure))?;
            }
        }
        map.end()
    }
}

impl<'de> Deserialize<'de> for Figures {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Fields;
        impl<'de> Visitor<'de> for Fields {
            type Value = Figures;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("the figures of a group of notes")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Figures, A::Error> {
                let mut out = Figures::default();
                while let Some(key) = map.next_key::<String>()? {
                    if let Some(k) = declared().iter().position(|f| f.key == key) {
                        out.0[k].value = map.next_value()?;
                    } else if let Some(k) = declared().iter().position(|f| !key.is_empty() && f.interval_key == key) {
                        let ends = map.next_value::<Option<[Option<f64>; 2]>>()?;
                        [out.0[k].low, out.0[k].high] = ends.unwrap_or_default();
                    } else {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
                Ok(out)
            }
        }
        d.deserialize_map(Fields)
    }
}

#[cfg(feature = "schemas")]
impl JsonSchema for Figures {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Figures".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let mut properties = serde_json::Map::new();
        for figure in declared() {
            let kind = if figure.is_count { json!("integer") } else { json!(["number", "null"]) };
            let mut own = json!({"type": kind, "description": figure.about});
            let end = json!({"type": ["number", "null"]});
            let ends = json!({"type": ["array", "null"], "items": end, "minItems": 2, "maxItems": 2,
                "description": "95 % interval; the lower end is null where it reaches 0."});
            if let Some(own) = own.as_object_mut().filter(|_| !figure.signed) {
                own.insert("minimum".to_owned(), json!(0));
            }
            properties.insert(figure.key.to_owned(), own);
            if !figure.interval_key.is_empty() {
                properties.insert(figure.interval_key.to_owned(), ends);
            }
        }
        let required: Vec<&String> = properties.keys().collect();
        json_schema!({"type": "object", "required": required, "properties": properties})
    }
}
