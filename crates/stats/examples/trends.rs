//! Reads series (JSON, one `{"times": [...], "values": [...]}` a line) from standard input and prints their trends, one
//! JSON object a line, for the comparison with outside libraries in tests/reference/trend_series.py.

use serde_json::{Value, json};
use std::io::BufRead;
use takegauge_stats::{Sample, trend};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for line in std::io::stdin().lock().lines() {
        let series: Value = serde_json::from_str(&line?)?;
        let numbers =
            |key: &str| series[key].as_array().into_iter().flatten().filter_map(Value::as_f64).collect::<Vec<_>>();
        let (times, values) = (numbers("times"), numbers("values"));
        let (times, values) = (Sample::new(&times)?, Sample::new(&values)?);
        let (line, test) = (trend::theil_sen(times, values, 0.95, 1.0)?, trend::mann_kendall(values)?);
        let figures = json!({
            "theil_sen": [line.slope.value, line.intercept, line.sen_interval.low, line.sen_interval.high],
            "mann_kendall": [test.s, test.variance, test.tau, test.z, test.p_normal],
            "exact_p": test.p_exact,
        });
        println!("{figures}");
    }
    Ok(())
}
