//! Script and style files.

use crate::trouble::Trouble;
use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};

/// The name is looked up here, not on the disk.
pub(crate) async fn file(Path(name): Path<String>) -> Result<Response, Trouble> {
    const SCRIPT: &str = "text/javascript; charset=utf-8";
    let (kind, text) = match name.as_str() {
        "report.css" => ("text/css; charset=utf-8", takegauge_report::STYLE.to_owned()),
        "page.css" => ("text/css; charset=utf-8", include_str!("../assets/page.css").to_owned()),
        "report.js" => (SCRIPT, takegauge_report::report_script()),
        "pair.js" => (SCRIPT, takegauge_report::pair_script()),
        "theme.js" => (SCRIPT, takegauge_report::theme_script()),
        "send.js" => (SCRIPT, include_str!("../assets/send.js").to_owned()),
        "wait.js" => (SCRIPT, include_str!("../assets/wait.js").to_owned()),
        "record.js" => (SCRIPT, record()),
        "recorder-worklet.js" => (SCRIPT, include_str!("../assets/recorder-worklet.js").to_owned()),
        "loops.js" => (SCRIPT, include_str!("../assets/loops.js").to_owned()),
        _ => return Err(Trouble::NotFound("There is no such file.".into())),
    };
    Ok(([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "no-cache")], text).into_response())
}

/// The script of the page that records: small files that share one scope.
fn record() -> String {
    let parts = [
        include_str!("../assets/wav.js"),
        include_str!("../assets/recorder.js"),
        include_str!("../assets/tries.js"),
        include_str!("../assets/record.js"),
    ];
    format!("\"use strict\";\n(() => {{\n{}}})();\n", parts.concat())
}
