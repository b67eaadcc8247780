//! Someone who calls the API.

use std::time::Duration;

use serde_json::Value;
use ureq::{
    Agent, BodyReader,
    http::{Method, Request},
};

use crate::Events;

/// A caller of one server, signed in or not.
#[derive(Clone)]
pub struct Client {
    agent: Agent,
    base: String,
    token: Option<String>,
    headers: Vec<(String, String)>,
}

/// What a server answered.
#[derive(Debug, Clone)]
pub struct Answer {
    /// HTTP status.
    pub status: u16,
    /// Headers.
    pub headers: ureq::http::HeaderMap,
    /// Body as text; what is no UTF-8 in it is replaced.
    pub text: String,
    /// Body as it came.
    pub bytes: Vec<u8>,
}

impl Answer {
    /// The body as JSON; null if it is none.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or(Value::Null)
    }

    /// A header, empty if absent.
    pub fn header(&self, name: &str) -> String {
        header(&self.headers, name)
    }

    /// The ETag.
    pub fn etag(&self) -> String {
        let etag = self.header("ETag");
        assert!(!etag.is_empty(), "no ETag: {} {}", self.status, self.text);
        etag
    }

    /// Its JSON, after checking the status.
    #[track_caller]
    pub fn expect(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{}", self.text);
        self.json()
    }

    /// Checks that it is a problem of this status and code; returns its field errors as
    /// `field: message` lines.
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Vec<String> {
        let json = self.json();
        assert_eq!((self.status, json["code"].as_str()), (status, Some(code)), "{}", self.text);
        assert_eq!(self.header("Content-Type"), "application/problem+json");
        assert_eq!(json["status"], status);
        assert_eq!(json["type"], format!("urn:plumbline:problem:{code}"));
        let errors = json["errors"].as_array().cloned().unwrap_or_default();
        errors
            .iter()
            .map(|error| {
                format!("{}: {}", error["field"].as_str().unwrap(), error["message"].as_str().unwrap())
            })
            .collect()
    }
}

/// A header of an answer, empty if absent.
pub fn header(headers: &ureq::http::HeaderMap, name: &str) -> String {
    headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned()
}

impl Client {
    /// Nobody, at this address.
    pub fn new(base: &str) -> Self {
        let agent = Agent::config_builder().http_status_as_error(false).max_redirects(0).build().into();
        Self { agent, base: base.to_owned(), token: None, headers: Vec::new() }
    }

    /// The same with this access token.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: Some(token.to_owned()), ..self.clone() }
    }

    /// The same with a further header on every request.
    #[must_use]
    pub fn with(&self, name: &str, value: &str) -> Self {
        let mut client = self.clone();
        client.headers.push((name.to_owned(), value.to_owned()));
        client
    }

    /// The access token.
    pub fn token(&self) -> &str {
        self.token.as_deref().unwrap_or_default()
    }

    /// Sends bytes of a media type to a path of the server.
    pub fn send(&self, method: &str, path: &str, content_type: Option<&str>, body: &[u8]) -> Answer {
        self.try_send(method, path, content_type, body).expect("the server answers")
    }

    /// As [`Self::send`]; none if no whole answer came back.
    pub fn try_send(
        &self,
        method: &str,
        path: &str,
        content_type: Option<&str>,
        body: &[u8],
    ) -> Option<Answer> {
        let mut request = Request::builder()
            .method(Method::from_bytes(method.as_bytes()).unwrap())
            .uri(format!("{}{path}", self.base));
        if let Some(token) = &self.token {
            request = request.header("Authorization", format!("Bearer {token}"));
        }
        for (name, value) in &self.headers {
            request = request.header(name, value);
        }
        if let Some(content_type) = content_type {
            request = request.header("Content-Type", content_type);
        }
        let response = if content_type.is_some() || !body.is_empty() {
            self.agent.run(request.body(body).unwrap())
        } else {
            self.agent.run(request.body(()).unwrap())
        };
        let mut response = response.ok()?;
        let headers = response.headers().clone();
        let bytes = match header(&headers, "Content-Type").as_str() {
            // It does not end by itself: the first event will do.
            "text/event-stream" => Events::of(response.body_mut().as_reader()).block().into_bytes(),
            _ => response.body_mut().with_config().limit(64 << 20).read_to_vec().ok()?,
        };
        let text = String::from_utf8_lossy(&bytes).into_owned();
        Some(Answer { status: response.status().as_u16(), headers, text, bytes })
    }

    /// Follows what happens at the caller's school.
    pub fn follow(&self) -> Events<BodyReader<'static>> {
        let patience = Some(Duration::from_secs(60));
        let agent: Agent = Agent::config_builder().timeout_recv_body(patience).build().into();
        let request = Request::get(format!("{}/api/v1/sync/events", self.base));
        let request = request.header("Authorization", format!("Bearer {}", self.token())).body(()).unwrap();
        Events::of(agent.run(request).unwrap().into_body().into_reader())
    }

    fn api(&self, method: &str, path: &str, body: Option<&Value>) -> Answer {
        let path = if path.starts_with("/api/") || path == "/openapi.json" || path.starts_with("/health") {
            path.to_owned()
        } else {
            format!("/api/v1{path}")
        };
        match body {
            Some(body) => self.send(method, &path, Some("application/json"), body.to_string().as_bytes()),
            None => self.send(method, &path, None, &[]),
        }
    }

    /// GET a path under /api/v1.
    pub fn get(&self, path: &str) -> Answer {
        self.api("GET", path, None)
    }

    /// POST JSON.
    #[allow(clippy::needless_pass_by_value)]
    pub fn post(&self, path: &str, body: Value) -> Answer {
        self.api("POST", path, Some(&body))
    }

    /// PUT JSON based on an ETag.
    #[allow(clippy::needless_pass_by_value)]
    pub fn put(&self, path: &str, etag: &str, body: Value) -> Answer {
        self.with("If-Match", etag).api("PUT", path, Some(&body))
    }

    /// PATCH JSON based on an ETag.
    #[allow(clippy::needless_pass_by_value)]
    pub fn patch(&self, path: &str, etag: &str, body: Value) -> Answer {
        self.with("If-Match", etag).api("PATCH", path, Some(&body))
    }

    /// DELETE, based on an ETag.
    pub fn delete(&self, path: &str, etag: &str) -> Answer {
        self.with("If-Match", etag).api("DELETE", path, None)
    }

    /// Sends any method with an optional JSON body and no precondition.
    pub fn call(&self, method: &str, path: &str, body: Option<&Value>) -> Answer {
        self.api(method, path, body)
    }

    /// POST a CSV file.
    pub fn post_csv(&self, path: &str, csv: &[u8]) -> Answer {
        self.send("POST", &format!("/api/v1{path}"), Some("text/csv"), csv)
    }
}
