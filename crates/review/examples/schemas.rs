//! Writes the JSON Schemas of the reports.
//!
//!     cargo run -p takegauge-review --example schemas -- schemas

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os().nth(1).unwrap_or_else(|| "schemas".into());
    for (name, schema) in takegauge_review::schemas() {
        let text = serde_json::to_string_pretty(&schema)? + "\n";
        std::fs::write(std::path::Path::new(&folder).join(name), text)?;
    }
    Ok(())
}
