//! One log line a request: id, route pattern, status, time. No path, no query, no address:
//! ids and search words are personal data.

use actix_web::{
    Error,
    body::MessageBody,
    dev::{ServiceRequest, ServiceResponse},
    http::{
        Method,
        header::{self, HeaderName, HeaderValue, HttpDate, TryIntoHeaderValue as _},
    },
    middleware::Next,
    web,
};
use std::time::{Duration, Instant, UNIX_EPOCH};
use uuid::Uuid;

use super::Api;

/// Logs a request and gives it an id, which the answer carries as `X-Request-Id`.
pub async fn requests<B: MessageBody>(
    mut request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, Error> {
    let id = Uuid::now_v7();
    let method = request.method().clone();
    if method == Method::HEAD {
        // Answered as GET; the server leaves the body out.
        request.head_mut().method = Method::GET;
    }
    let is_api = request.path().starts_with("/api/");
    let started = Instant::now();
    let span = tracing::info_span!("request", %id);
    let answered = tracing::Instrument::instrument(next.call(request), span).await;
    let mut response = answered?;
    let route = response.request().match_pattern().unwrap_or_else(|| "-".into());
    let status = response.status().as_u16();
    let micros = u64::try_from(started.elapsed().as_micros()).unwrap_or(u64::MAX);
    tracing::info!(%id, %method, route, status, micros, "answered");
    let date = date(&response);
    let headers = response.headers_mut();
    if let Some(date) = date {
        headers.insert(header::DATE, date);
    }
    if let Ok(value) = HeaderValue::from_str(&id.to_string()) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
    if is_api {
        headers.insert(HeaderName::from_static("cache-control"), HeaderValue::from_static("no-store"));
        // A sheet says which style it has; nothing else has any.
        let name = HeaderName::from_static("content-security-policy");
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static("default-src 'none'; frame-ancestors 'none'"));
        }
    }
    Ok(response)
}

/// The time by which records are dated, which on trial is not the machine's: clients go by it.
fn date<B>(response: &ServiceResponse<B>) -> Option<HeaderValue> {
    let at = response.request().app_data::<web::Data<Api>>()?.store.clock().now();
    let since = Duration::from_micros(u64::try_from(at.micros()).ok()?);
    HttpDate::from(UNIX_EPOCH + since).try_into_value().ok()
}
