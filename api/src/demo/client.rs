//! Someone of the school who works with the server over HTTP, as any program would.

use std::{
    sync::{Mutex, PoisonError},
    time::Duration,
};

use serde::{Deserialize, de::DeserializeOwned};
use serde_json::{Value, json};
use ureq::{
    Agent,
    http::{Method, Request},
};

use super::Failure;

/// The way to one server.
#[derive(Clone)]
pub(super) struct Client {
    agent: Agent,
    base: String,
}

/// Someone signed in.
pub(super) struct Person {
    client: Client,
    email: String,
    password: String,
    token: Mutex<String>,
    /// The member of staff.
    pub(super) staff_id: String,
}

/// An answer that says which version it shows.
pub(super) struct Tagged<T> {
    pub(super) body: T,
    pub(super) etag: String,
}

/// A list.
#[derive(Deserialize)]
pub(super) struct Page<T> {
    pub(super) items: Vec<T>,
}

/// Anything with an id.
#[derive(Deserialize)]
pub(super) struct Made {
    pub(super) id: String,
}

#[derive(Deserialize)]
struct Session {
    access_token: String,
    staff_id: String,
}

struct Answer {
    status: u16,
    etag: String,
    text: String,
}

/// What is sent: nothing, JSON, or a file.
enum Body<'a> {
    None,
    Json(&'a Value),
    Csv(&'a [u8]),
}

impl Client {
    /// To the server at an address.
    pub(super) fn new(base: &str) -> Self {
        let config = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .timeout_global(Some(Duration::from_secs(60)));
        Self { agent: config.build().into(), base: base.to_owned() }
    }

    /// Accepts an invitation.
    pub(super) fn accept(&self, token: &str, password: &str) -> Result<(), Failure> {
        let body = json!({"token": token, "password": password});
        self.send("POST", "/invitations/accept", None, None, &Body::Json(&body))?.good()?;
        Ok(())
    }

    /// Signs someone in.
    pub(super) fn sign_in(&self, email: &str, password: &str) -> Result<Person, Failure> {
        let session = self.session(email, password)?;
        Ok(Person {
            client: self.clone(),
            email: email.to_owned(),
            password: password.to_owned(),
            token: Mutex::new(session.access_token),
            staff_id: session.staff_id,
        })
    }

    fn session(&self, email: &str, password: &str) -> Result<Session, Failure> {
        let body = json!({"email": email, "password": password});
        self.send("POST", "/sessions", None, None, &Body::Json(&body))?.read()
    }

    fn send(
        &self,
        method: &str,
        path: &str,
        token: Option<&str>,
        etag: Option<&str>,
        body: &Body<'_>,
    ) -> Result<Answer, Failure> {
        let about = |error: &dyn std::fmt::Display| format!("{method} {path}: {error}");
        let method = Method::from_bytes(method.as_bytes())?;
        let mut request = Request::builder().method(method).uri(format!("{}/api/v1{path}", self.base));
        if let Some(token) = token {
            request = request.header("Authorization", format!("Bearer {token}"));
        }
        if let Some(etag) = etag {
            request = request.header("If-Match", etag);
        }
        let sent = match body {
            Body::None => self.agent.run(request.body(())?),
            Body::Json(value) => {
                let request = request.header("Content-Type", "application/json");
                self.agent.run(request.body(value.to_string())?)
            }
            Body::Csv(bytes) => self.agent.run(request.header("Content-Type", "text/csv").body(*bytes)?),
        };
        let mut response = sent.map_err(|error| about(&error))?;
        let etag = response.headers().get("ETag").and_then(|value| value.to_str().ok()).unwrap_or_default();
        let (status, etag) = (response.status().as_u16(), etag.to_owned());
        let text = response.body_mut().read_to_string().map_err(|error| about(&error))?;
        if status >= 400 && status != 401 {
            return Err(about(&explain(status, &text)).into());
        }
        Ok(Answer { status, etag, text })
    }
}

/// A problem document in one line.
fn explain(status: u16, text: &str) -> String {
    let problem: Value = serde_json::from_str(text).unwrap_or_default();
    let said = |key: &str| problem.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    let mut parts = vec![format!("{status} {}", said("title"))];
    parts.extend(Some(said("detail")).filter(|detail| !detail.is_empty()));
    let errors = problem.get("errors").and_then(Value::as_array).cloned().unwrap_or_default();
    parts.extend(errors.iter().map(|error| {
        let said = |key: &str| error.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
        format!("{} {}", said("field"), said("message"))
    }));
    parts.join("; ")
}

impl Answer {
    fn good(self) -> Result<Self, Failure> {
        if self.status < 400 { Ok(self) } else { Err(explain(self.status, &self.text).into()) }
    }

    fn read<T: DeserializeOwned>(self) -> Result<T, Failure> {
        Ok(serde_json::from_str(&self.good()?.text)?)
    }

    fn tagged<T: DeserializeOwned>(self) -> Result<Tagged<T>, Failure> {
        let answer = self.good()?;
        Ok(Tagged { body: serde_json::from_str(&answer.text)?, etag: answer.etag })
    }
}

impl Person {
    /// Sends; signs in anew where the access token has run out.
    fn send(&self, method: &str, path: &str, etag: Option<&str>, body: &Body<'_>) -> Result<Answer, Failure> {
        let token = self.token.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let answer = self.client.send(method, path, Some(&token), etag, body)?;
        if answer.status != 401 {
            return Ok(answer);
        }
        let token = self.client.session(&self.email, &self.password)?.access_token;
        self.token.lock().unwrap_or_else(PoisonError::into_inner).clone_from(&token);
        self.client.send(method, path, Some(&token), etag, body)
    }

    /// Reads.
    pub(super) fn get<T: DeserializeOwned>(&self, path: &str) -> Result<T, Failure> {
        self.send("GET", path, None, &Body::None)?.read()
    }

    /// Reads to edit.
    pub(super) fn get_tagged<T: DeserializeOwned>(&self, path: &str) -> Result<Tagged<T>, Failure> {
        self.send("GET", path, None, &Body::None)?.tagged()
    }

    /// Makes something.
    pub(super) fn post<T: DeserializeOwned>(&self, path: &str, body: &Value) -> Result<T, Failure> {
        self.send("POST", path, None, &Body::Json(body))?.read()
    }

    /// Makes something to edit.
    pub(super) fn post_tagged<T: DeserializeOwned>(
        &self,
        path: &str,
        body: &Value,
    ) -> Result<Tagged<T>, Failure> {
        self.send("POST", path, None, &Body::Json(body))?.tagged()
    }

    /// Sends a pupil file.
    pub(super) fn post_csv<T: DeserializeOwned>(&self, path: &str, file: &[u8]) -> Result<T, Failure> {
        self.send("POST", path, None, &Body::Csv(file))?.read()
    }

    /// Saves, based on the version read; returns the version made.
    pub(super) fn put(&self, path: &str, etag: Option<&str>, body: &Value) -> Result<String, Failure> {
        Ok(self.send("PUT", path, etag, &Body::Json(body))?.good()?.etag)
    }
}

#[cfg(test)]
mod tests {
    use super::explain;

    #[test]
    fn a_problem_is_told_whole() {
        let text = r#"{"title": "Some fields are wrong", "detail": null,
                       "errors": [{"field": "on", "message": "2026-12-01 is in the future"}]}"#;
        assert_eq!(explain(422, text), "422 Some fields are wrong; on 2026-12-01 is in the future");
        assert_eq!(explain(502, "<html>"), "502 ");
    }
}
