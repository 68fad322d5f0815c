//! Reads fixed input vectors (JSON, tests/reference/vectors.json) and prints what this crate makes of them as one JSON
//! object, for the comparison with outside libraries in tests/reference/stats_scipy.py.

use serde_json::{Value, json};
use takegauge_stats::{
    Estimate, Result, Sample, circular, comparison, evenness, intervals, linear, moments, multiple, robust, spread,
    timing, trend,
};

fn pair(e: Estimate) -> Value {
    json!([e.value, e.interval.low, e.interval.high])
}

fn numbers(input: &Value, key: &str) -> Vec<f64> {
    input[key].as_array().map(|a| a.iter().filter_map(Value::as_f64).collect()).unwrap_or_default()
}

fn one_sample(a: Sample) -> Result<Value> {
    let trimmed = robust::trimmed_mean(a, 0.2)?;
    let quantiles = [0.0, 0.1, 0.25, 0.5, 0.9, 1.0].map(|p| moments::quantile(a, p).ok());
    Ok(json!({
        "mean": moments::mean(a),
        "sd": moments::standard_deviation(a)?,
        "quantiles": quantiles,
        "lag1": moments::lag1_autocorrelation(a)?,
        "median": robust::median(a),
        "mad_sd": robust::mad_sd(a),
        "trimmed_mean": [trimmed.value, trimmed.standard_error],
        "mean_interval": pair(intervals::mean_interval(a, 0.95)?),
        "sd_interval": pair(intervals::sd_interval(a, 0.95)?),
        "chance_outside": intervals::chance_outside(moments::mean(a), moments::standard_deviation(a)?, a.len(), 9.0)?,
        "covariances": timing::covariances(a)?,
    }))
}

fn several_samples(a: Sample, b: Sample, c: Sample) -> Result<Value> {
    let welch = comparison::welch(a, b, 0.95)?;
    let yuen = robust::yuen(a, b, 0.2, 0.95)?;
    let levene = comparison::brown_forsythe(&[a, b, c])?;
    Ok(json!({
        "welch": [welch.t, welch.degrees_of_freedom, welch.p, welch.estimate.interval.low, welch.estimate.interval.high],
        "yuen": [yuen.t, yuen.degrees_of_freedom, yuen.p],
        "brown_forsythe": [levene.statistic, levene.p],
        "sd_ratio": pair(comparison::sd_ratio(a, b, 0.95)?),
    }))
}

fn trends(times: Sample, values: Sample, tied: Sample) -> Result<Value> {
    let line = trend::theil_sen(times, values, 0.95, 1.0)?;
    let (plain, with_ties) = (trend::mann_kendall(values)?, trend::mann_kendall(tied)?);
    Ok(json!({
        "theil_sen": [line.slope.value, line.intercept, line.sen_interval.low, line.sen_interval.high],
        "mann_kendall": [plain.s, plain.variance, plain.tau, plain.z, plain.p_normal],
        "mann_kendall_exact_p": plain.p_exact,
        "mann_kendall_tied": [with_ties.s, with_ties.variance, with_ties.z, with_ties.p_normal],
    }))
}

fn main() -> std::result::Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).ok_or("give the path of the vectors (JSON)")?;
    let input: Value = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    let lists =
        ["a", "b", "c", "times", "values", "tied", "angles", "weights", "intervals"].map(|k| numbers(&input, k));
    let [a, b, c, times, values, tied, angles, weights, iois] = &lists;
    let (a, times, values) = (Sample::new(a)?, Sample::new(times)?, Sample::new(values)?);
    let count = |key: &str| input[key].as_u64().unwrap_or(0) as usize;
    let (hits, tried) = (count("hits"), count("tried"));
    let columns: Vec<Vec<f64>> = (0..3)
        .map(|k| input["columns"][k].as_array().into_iter().flatten().filter_map(Value::as_f64).collect())
        .collect();
    let fit = linear::least_squares(&columns, values, Sample::new(weights)?)?;
    let places: Vec<usize> = numbers(&input, "places").iter().map(|p| *p as usize).collect();
    let within = spread::within_places(a, &places, 0.95)?;
    let c = Sample::new(c)?;
    let around = circular::circular(Sample::new(angles)?);
    let output = json!({
        "one": one_sample(a)?,
        "several": several_samples(a, Sample::new(b)?, c)?,
        "trend": trends(times, values, Sample::new(tied)?)?,
        "rates": {
            "wilson": pair(intervals::wilson(hits, tried, 0.95)?),
            "clopper_pearson": pair(intervals::clopper_pearson(hits, tried, 0.95)?),
            "upper_limit": intervals::rate_upper_limit(hits, tried, 0.95)?,
            "upper_limit_none": intervals::rate_upper_limit(0, 100, 0.95)?,
        },
        "holm": multiple::holm(&numbers(&input, "p_values"))?,
        "circular": [around.mean_direction, Some(around.resultant_length), around.circular_sd],
        "within_places": [within.variance, within.interval.low, within.interval.high, within.upper_limit],
        "least_squares": {"coefficients": fit.coefficients, "standard_errors": fit.standard_errors()},
        "npvi": evenness::npvi(Sample::new(iois)?)?,
    });
    println!("{output}");
    Ok(())
}
