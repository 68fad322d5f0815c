//! Who may ask, and what the answers forbid the browser to do.
//!
//! - Host must name this very server: a foreign name that resolves to 127.0.0.1 (DNS rebinding) is refused.
//! - Origin and Sec-Fetch-Site, where a browser sends them, must be this server's own.
//! - Other users of this machine reach the port as well: everything but the answer "no" needs the cookie of this start,
//!   which a browser gets for the key in the printed address.
//! - A POST carries the token of this start, in a header or a form field.
//! - Answers forbid everything that does not come from this address (Content Security Policy Level 3).

use crate::slow::Trusted;
use crate::state::App;
use crate::trouble::Trouble;
use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, Uri, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Redirect, Response};
use std::sync::Arc;
use std::time::Duration;

/// The header that carries the token where there is no form.
pub(crate) const TOKEN_HEADER: &str = "x-takegauge-token";
/// Where recordings go: the only bodies that are not read here.
pub(crate) const UPLOADS: &str = "/uploads";
pub(crate) const LOOPBACK: &str = "/record/loopback";
/// Largest form, bytes.
const FORM_BYTES: usize = 128 * 1024;
/// A form must be there within this.
const FORM_WITHIN: Duration = Duration::from_secs(10);

const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self' blob:; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const HEADERS: [(header::HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "same-origin"),
    (header::HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
];

/// The router with everything that asks checked first.
pub(crate) fn around(router: Router, app: Arc<App>) -> Router {
    router.layer(from_fn_with_state(app, check))
}

async fn check(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let mut response = match admit(&app, request).await {
        Ok(Admitted::In(request)) => next.run(*request).await,
        Ok(Admitted::Known(to)) => {
            let cookie = HeaderValue::from_str(&app.set_cookie());
            let mut response = Redirect::to(&to).into_response();
            if let Ok(cookie) = cookie {
                response.headers_mut().insert(header::SET_COOKIE, cookie);
            }
            response
        }
        Err(trouble) => trouble.into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}

/// What becomes of a request.
enum Admitted {
    In(Box<Request>),
    /// It brought the key: it is told its cookie, and to come again to this address without it.
    Known(String),
}

async fn admit(app: &App, request: Request) -> Result<Admitted, Trouble> {
    let headers = request.headers();
    let mut hosts = headers.get_all(header::HOST).iter();
    let host = hosts.next().and_then(|h| h.to_str().ok());
    if hosts.next().is_some() || !host.is_some_and(|h| app.is_own_host(h)) {
        return Err(Trouble::Forbidden("This address is answered only under its own name, 127.0.0.1.".into()));
    }
    // A request target in absolute form would overrule the Host header (RFC 9112, section 3.2.2).
    if request.uri().authority().is_some_and(|a| !app.is_own_host(a.as_str())) {
        return Err(Trouble::Forbidden("This address is answered only under its own name, 127.0.0.1.".into()));
    }
    own_site(app, headers, request.method() == Method::POST)?;
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    if let Some(to) = with_key(app, request.uri()).filter(|_| reads) {
        return Ok(Admitted::Known(to));
    }
    let cookies = headers.get_all(header::COOKIE).iter().filter_map(|c| c.to_str().ok());
    if !cookies.into_iter().any(|c| app.has_cookie(c)) {
        return Err(Trouble::Forbidden(
            "Open the whole address that `takegauge page` printed when it started: the key in it shows that it is you."
                .into(),
        ));
    }
    if let Some(connection) = request.extensions().get::<Trusted>() {
        connection.trust();
    }
    match *request.method() {
        Method::GET | Method::HEAD => Ok(Admitted::In(Box::new(request))),
        Method::POST => with_token(app, request).await.map(|r| Admitted::In(Box::new(r))),
        _ => Err(Trouble::Method),
    }
}

/// The address without the key, if the right one stands in it.
fn with_key(app: &App, uri: &Uri) -> Option<String> {
    let mut right = false;
    let mut rest = form_urlencoded::Serializer::new(String::new());
    for (name, value) in form_urlencoded::parse(uri.query()?.as_bytes()) {
        if name == "key" {
            right |= app.is_key(value.as_bytes());
        } else {
            rest.append_pair(&name, &value);
        }
    }
    let rest = rest.finish();
    // Only a path of this server's own: two slashes would name another one.
    let path = format!("/{}", uri.path().trim_start_matches('/'));
    right.then(|| if rest.is_empty() { path } else { format!("{path}?{rest}") })
}

/// Pages may be opened from a link or a bookmark, but nothing is fetched, embedded or posted from another site.
fn own_site(app: &App, headers: &HeaderMap, post: bool) -> Result<(), Trouble> {
    let refuse = || Err(Trouble::Forbidden("Another web site may not ask this program for anything.".into()));
    if let Some(origin) = headers.get(header::ORIGIN) {
        let own = origin.to_str().ok().and_then(|o| o.strip_prefix("http://")).is_some_and(|h| app.is_own_host(h));
        if !own {
            return refuse();
        }
    }
    let text = |name: &str| headers.get(name).and_then(|v| v.to_str().ok());
    match text("sec-fetch-site") {
        None | Some("same-origin" | "none") => Ok(()),
        Some(_)
            if !post && text("sec-fetch-mode") == Some("navigate") && text("sec-fetch-dest") == Some("document") =>
        {
            Ok(())
        }
        Some(_) => refuse(),
    }
}

async fn with_token(app: &App, request: Request) -> Result<Request, Trouble> {
    let given = request.headers().get(TOKEN_HEADER).map(|t| t.as_bytes().to_vec());
    let missing = || {
        Trouble::Forbidden(
            "This page is from an earlier start of the program. Go back, load it again, and repeat.".into(),
        )
    };
    if [UPLOADS, LOOPBACK].contains(&request.uri().path()) {
        return if given.is_some_and(|t| app.is_token(&t)) { Ok(request) } else { Err(missing()) };
    }
    let (parts, body) = request.into_parts();
    let read = tokio::time::timeout(FORM_WITHIN, axum::body::to_bytes(body, FORM_BYTES)).await;
    let bytes = match read {
        Err(_) => return Err(Trouble::Slow),
        Ok(Err(_)) => return Err(Trouble::TooLarge(format!("A form may hold {} KB.", FORM_BYTES / 1024))),
        Ok(Ok(bytes)) => bytes,
    };
    let in_form = || {
        let mut fields = form_urlencoded::parse(&bytes);
        fields.find(|(name, _)| name == "token").map(|(_, value)| value.as_bytes().to_vec())
    };
    if !given.or_else(in_form).is_some_and(|t| app.is_token(&t)) {
        return Err(missing());
    }
    Ok(Request::from_parts(parts, Body::from(bytes)))
}
