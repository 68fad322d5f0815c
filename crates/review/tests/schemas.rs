//! The committed schemas are those of the types.
#![allow(clippy::unwrap_used, clippy::panic)]

#[test]
fn the_committed_schemas_are_what_the_types_say() {
    for (name, schema) in takegauge_review::schemas() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas").join(name);
        let committed: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        let again = "write it anew: cargo run -p takegauge-review --example schemas -- schemas";
        assert!(committed == *schema.as_value(), "schemas/{name} is not what the types say; {again}");
    }
}
