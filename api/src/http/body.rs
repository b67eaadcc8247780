//! A JSON body: bounded in size and time, strict, with the field's path in every complaint.

use std::{future::poll_fn, pin::Pin, time::Duration};

use actix_web::{
    FromRequest, HttpRequest,
    body::{BodyStream, MessageBody as _},
    dev::Payload,
    http::header::CONTENT_TYPE,
    web::{self, Bytes},
};
use chrono::Datelike as _;
use plumbline_core::time::Date;
use serde::{Deserialize, Deserializer, de::DeserializeOwned};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

use super::{
    Api,
    problem::{Code, Problem},
    unpack::Unpacking,
    wording::for_a_person,
};

/// A parsed body and the hash of its bytes.
pub struct Body<T> {
    /// What it says.
    pub value: T,
    /// SHA-256 of the bytes, for Idempotency-Key.
    pub hash: [u8; 32],
}

/// A body's bytes as sent, of a media type other than JSON.
pub struct Raw {
    /// The media type, in lower case, without parameters.
    pub media_type: String,
    /// The bytes.
    pub bytes: Bytes,
}

/// The same, of up to [`LARGE`] times the usual size: a sequence as a framework says much twice.
pub struct LargeRaw(pub Raw);

/// How many times the usual size a large body may have.
const LARGE: usize = 4;

/// How long a body may take to arrive.
const PATIENCE: Duration = Duration::from_secs(30);

type Extracting<T> = Pin<Box<dyn Future<Output = Result<T, Problem>>>>;

fn media_type(request: &HttpRequest) -> String {
    let media_type = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let media_type = media_type.and_then(|value| value.split(';').next()).unwrap_or_default();
    media_type.trim().to_ascii_lowercase()
}

impl FromRequest for Raw {
    type Error = Problem;
    type Future = Extracting<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        arriving(request, payload, 1)
    }
}

impl FromRequest for LargeRaw {
    type Error = Problem;
    type Future = Extracting<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let raw = arriving(request, payload, LARGE);
        Box::pin(async move { Ok(Self(raw.await?)) })
    }
}

/// A body as it arrives, of at most so many times the usual size as sent and unpacked.
fn arriving(request: &HttpRequest, payload: &mut Payload, times: usize) -> Extracting<Raw> {
    let media_type = media_type(request);
    let usual = request.app_data::<web::Data<Api>>().map_or(0, |api| api.config.body_limit_bytes);
    let unpacking = Unpacking::new(request.headers(), usual.saturating_mul(times));
    let mut parts = BodyStream::new(payload.take());
    Box::pin(async move {
        let mut unpacking = unpacking?;
        let arriving = async move {
            while let Some(part) = poll_fn(|cx| Pin::new(&mut parts).poll_next(cx)).await {
                unpacking.take(&part.map_err(|_| Problem::new(Code::MalformedBody))?)?;
            }
            unpacking.finish()
        };
        let arrived = actix_web::rt::time::timeout(PATIENCE, arriving).await;
        let bytes = arrived.map_err(|_| Problem::new(Code::TooSlow))??.into();
        Ok(Raw { media_type, bytes })
    })
}

impl<T: DeserializeOwned + 'static> FromRequest for Body<T> {
    type Error = Problem;
    type Future = Extracting<Self>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let raw = Raw::from_request(request, payload);
        Box::pin(async move {
            let raw = raw.await?;
            if raw.media_type != "application/json" {
                return Err(Problem::saying(Code::UnsupportedMediaType, "send application/json"));
            }
            let hash = Sha256::digest(&raw.bytes).into();
            Ok(Self { value: parse(&raw.bytes)?, hash })
        })
    }
}

/// Reads a field of a patch that cannot be cleared: null is refused like any other wrong value, while a field
/// left out stays.
///
/// # Errors
/// What is wrong with the value.
pub fn unless_null<'de, D: Deserializer<'de>, T: Deserialize<'de>>(field: D) -> Result<Option<T>, D::Error> {
    T::deserialize(field).map(Some)
}

/// Parses JSON strictly: unknown and repeated fields are refused by the types themselves.
pub fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Problem> {
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(&mut json).map_err(|error| {
        let path = error.path().to_string();
        let inner = error.into_inner();
        match inner.classify() {
            serde_json::error::Category::Data => complaint(path, &for_a_person(&inner.to_string())),
            // A number where a word is due counts as bad syntax there.
            _ if serde_json::from_slice::<Value>(bytes).is_ok() => {
                complaint(path, "is none of the values it can have")
            }
            _ => Problem::saying(Code::MalformedBody, inner.to_string()),
        }
    })?;
    json.end().map_err(|error| Problem::saying(Code::MalformedBody, error.to_string()))?;
    let seen: Value = serde_json::from_slice(bytes).unwrap_or_default();
    if !seen.is_object() {
        return Err(Problem::saying(Code::MalformedBody, "send a JSON object"));
    }
    check_days("", "", &seen)?;
    Ok(value)
}

/// A field that is missing, unknown or stands twice may be named by the message alone; it belongs
/// in the path.
pub(super) fn complaint(path: String, message: &str) -> Problem {
    let starts = ["missing field `", "duplicate field `", "unknown field `"];
    let named = starts.iter().find_map(|start| message.strip_prefix(start));
    match named.and_then(|rest| rest.split('`').next()) {
        Some(field) if path == "." => Problem::field(field, message),
        Some(field) if !path.ends_with(field) => Problem::field(format!("{path}.{field}"), message),
        _ => Problem::field(path, message),
    }
}

/// The years a day of a school can lie in. Beyond four digits the stores would part ways.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2200;

/// Refuses a day no school has in a field that holds days, known by its name: a word or a title may
/// look like one.
///
/// # Errors
/// `invalid`, naming the field.
pub(super) fn check_day(path: &str, name: &str, value: &str) -> Result<(), Problem> {
    match value.parse::<Date>() {
        Ok(day) if is_day(name) && !YEARS.contains(&day.year()) => {
            Err(Problem::field(path, "must lie in the years 1900 to 2200"))
        }
        _ => Ok(()),
    }
}

/// Whether a field of this name holds a day.
fn is_day(name: &str) -> bool {
    name.ends_with("_on")
        || matches!(
            name,
            "absentees_until"
                | "as_of"
                | "closed_before"
                | "date_of_birth"
                | "days"
                | "earliest"
                | "finish_by"
                | "from"
                | "last_day"
                | "late_from"
                | "latest"
                | "lost_from"
                | "lost_until"
                | "middle"
                | "on"
                | "since"
                | "to"
                | "today"
                | "undo_until"
                | "until"
        )
}

/// The same for every field of a body.
fn check_days(path: &str, name: &str, value: &Value) -> Result<(), Problem> {
    match value {
        Value::String(text) => check_day(path, name, text),
        Value::Array(list) => list
            .iter()
            .enumerate()
            .try_for_each(|(n, value)| check_days(&format!("{path}[{n}]"), name, value)),
        Value::Object(fields) => fields.iter().try_for_each(|(name, value)| {
            let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
            check_days(&path, name, value)
        }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::{Bytes, Code, Problem, check_days, is_day, parse};
    use serde::Deserialize;
    use serde_json::Value;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Outer {
        #[allow(dead_code)]
        list: Vec<Inner>,
    }
    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Inner {
        #[allow(dead_code)]
        n: u8,
    }

    fn complaint(json: &str) -> (Code, String) {
        let problem = parse::<Outer>(json.as_bytes()).map(|_| ()).unwrap_err();
        let body = actix_web::body::to_bytes(problem_body(&problem));
        let text = futures_lite_block(body);
        let value: serde_json::Value = serde_json::from_slice(&text).unwrap();
        let field = value["errors"][0]["field"].as_str().unwrap_or_default().to_owned();
        (problem.code(), field)
    }

    fn problem_body(problem: &Problem) -> actix_web::body::BoxBody {
        use actix_web::ResponseError as _;
        problem.error_response().into_body()
    }

    fn futures_lite_block<F: Future<Output = Result<Bytes, E>>, E: std::fmt::Debug>(future: F) -> Bytes {
        actix_web::rt::System::new().block_on(future).unwrap()
    }

    #[test]
    fn complaints_name_the_field() {
        assert_eq!(complaint(r#"{"list":[{"n":1},{"n":"x"}]}"#), (Code::Invalid, "list[1].n".into()));
        assert_eq!(complaint(r#"{"list":[{"n":1,"role":2}]}"#), (Code::Invalid, "list[0].role".into()));
        assert_eq!(complaint(r#"{"list":[],"list":[]}"#).0, Code::Invalid);
        assert_eq!(complaint(r#"{"list":[]} trailing"#).0, Code::MalformedBody);
        assert_eq!(complaint("{").0, Code::MalformedBody);
        assert_eq!(complaint(&"[".repeat(100_000)).0, Code::Invalid);
    }

    #[test]
    fn what_is_missing_and_what_no_calendar_has_is_named() {
        assert_eq!(complaint("{}"), (Code::Invalid, "list".into()));
        assert_eq!(complaint(r#"{"list":[{}]}"#), (Code::Invalid, "list[0].n".into()));
        let day = |json: &str| check_days("", "", &serde_json::from_str(json).unwrap()).map_err(|p| p.code());
        assert_eq!(day(r#"{"days":[{"from":"2026-09-01","until":null}]}"#), Ok(()));
        for far in ["+12026-01-01", "-0001-01-01", "1899-12-31", "2201-01-01"] {
            assert_eq!(day(&format!(r#"{{"days":[{{"from":"{far}"}}]}}"#)), Err(Code::Invalid), "{far}");
        }
    }

    #[test]
    fn only_fields_that_hold_days_are_held_to_them() {
        let words = r#"{"words":["1066-10-14"],"title":"1066-10-14","on":"1066-10-14"}"#;
        let refused = check_days("", "", &serde_json::from_str(words).unwrap()).unwrap_err();
        assert_eq!(refused.errors()[0].field, "on");
        let mut days = Vec::new();
        named_days("", &serde_json::to_value(crate::http::openapi()).unwrap(), &mut days);
        assert!(days.len() > 40);
        assert_eq!(days.into_iter().filter(|name| !is_day(name)).collect::<Vec<_>>(), [""; 0]);
    }

    /// Names of the fields and parameters of a document that hold a day.
    fn named_days(name: &str, value: &Value, days: &mut Vec<String>) {
        if value["format"] == "date" {
            days.push(name.to_owned());
        }
        let (fields, list) = (value.as_object(), value.as_array());
        for (key, inner) in fields.into_iter().flatten() {
            let passes_on = matches!(key.as_str(), "schema" | "items" | "oneOf" | "anyOf" | "allOf");
            let own = value["name"].as_str().filter(|_| value["in"].is_string()).unwrap_or(name);
            named_days(if passes_on { own } else { key }, inner, days);
        }
        for inner in list.into_iter().flatten() {
            named_days(name, inner, days);
        }
    }
}
