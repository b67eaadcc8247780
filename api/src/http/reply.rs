//! An answer made inside a transaction, so that it can be remembered with what it answers for.

use actix_web::{
    HttpRequest, HttpResponse, Responder,
    body::BoxBody,
    http::{
        StatusCode,
        header::{CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, HeaderName},
    },
};
use plumbline_core::id::Id;
use serde::{Deserialize, Serialize};

use super::{
    problem::{Code, Problem},
    sheets,
};

/// Status, headers and body of a success.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Reply {
    status: u16,
    etag: Option<String>,
    location: Option<String>,
    #[serde(default)]
    media_type: Option<String>,
    #[serde(default)]
    file_name: Option<String>,
    body: Option<String>,
}

impl Reply {
    /// 200 with a body.
    ///
    /// # Errors
    /// If the body cannot be serialised.
    pub fn ok(body: &impl Serialize) -> Result<Self, Problem> {
        let body = Some(serde_json::to_string(body)?);
        Ok(Self { status: 200, body, ..Self::nothing() })
    }

    /// 201 with a body and where the new thing is.
    ///
    /// # Errors
    /// If the body cannot be serialised.
    pub fn created(location: impl Into<String>, body: &impl Serialize) -> Result<Self, Problem> {
        Ok(Self { status: 201, location: Some(location.into()), ..Self::ok(body)? })
    }

    /// 202 with a body and where to ask how it goes on.
    ///
    /// # Errors
    /// If the body cannot be serialised.
    pub fn accepted(location: impl Into<String>, body: &impl Serialize) -> Result<Self, Problem> {
        Ok(Self { status: 202, ..Self::created(location, body)? })
    }

    /// 200 with a text of another media type.
    pub fn text(media_type: &str, text: String) -> Self {
        Self { status: 200, media_type: Some(media_type.to_owned()), body: Some(text), ..Self::nothing() }
    }

    /// 200 with a file of rows, as [`crate::files::csv_text::write`] and what stands on it leave it.
    ///
    /// # Errors
    /// If it could not be written, which memory rules out.
    pub fn csv(written: std::io::Result<String>) -> Result<Self, Problem> {
        let text = written.map_err(|error| {
            tracing::error!(%error, "writing a table");
            Problem::new(Code::Internal)
        })?;
        Ok(Self::text("text/csv; charset=utf-8", text))
    }

    /// 200 with a sheet to print.
    pub fn sheet(html: String) -> Self {
        Self::text(sheets::MEDIA_TYPE, html)
    }

    /// 204.
    pub const fn nothing() -> Self {
        Self { status: 204, etag: None, location: None, media_type: None, file_name: None, body: None }
    }

    /// 304: what the caller has is as it is now.
    pub fn unchanged(etag: String) -> Self {
        Self { status: 304, ..Self::nothing() }.tagged(etag)
    }

    /// With an ETag that is no version of one record.
    #[must_use]
    pub fn tagged(self, etag: String) -> Self {
        Self { etag: Some(etag), ..self }
    }

    /// What of it may be remembered where it tells of pupils: status and place.
    #[must_use]
    pub fn bare(&self) -> Self {
        Self { status: self.status, location: self.location.clone(), ..Self::nothing() }
    }

    /// The id of the new thing, by the place it is at.
    ///
    /// # Errors
    /// `internal` if it told of no place.
    pub fn made<K>(&self) -> Result<Id<K>, Problem> {
        let id = self.location.as_deref().and_then(|location| location.rsplit('/').next()?.parse().ok());
        id.ok_or_else(|| Problem::new(Code::Internal))
    }

    /// To be kept under a name, of letters a header may hold.
    #[must_use]
    pub fn named(self, file_name: String) -> Self {
        Self { file_name: Some(file_name), ..self }
    }

    /// With the version as ETag.
    #[must_use]
    pub fn version(self, v: i64) -> Self {
        Self { etag: Some(etag(v)), ..self }
    }
}

/// A file that is no text, made after the transaction.
#[derive(Debug)]
pub struct File {
    /// Its media type.
    pub media_type: &'static str,
    /// Under which name it is kept.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

impl Responder for File {
    type Body = BoxBody;
    fn respond_to(self, _request: &HttpRequest) -> HttpResponse {
        let mut response = HttpResponse::Ok();
        response.insert_header(attached(&self.name)).content_type(self.media_type).body(self.bytes)
    }
}

fn attached(name: &str) -> (HeaderName, String) {
    (CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\""))
}

/// A version as a strong ETag.
pub fn etag(v: i64) -> String {
    format!("\"v{v}\"")
}

/// The version in an ETag.
pub fn version_of(etag: &str) -> Option<i64> {
    etag.trim().strip_prefix("\"v")?.strip_suffix('"')?.parse().ok()
}

impl Responder for Reply {
    type Body = BoxBody;
    fn respond_to(self, _request: &HttpRequest) -> HttpResponse {
        let mut response = HttpResponse::build(StatusCode::from_u16(self.status).unwrap_or_default());
        if let Some(etag) = self.etag {
            response.insert_header(("ETag", etag));
        }
        if self.media_type.as_deref() == Some(sheets::MEDIA_TYPE) {
            response.insert_header((CONTENT_SECURITY_POLICY, sheets::policy("")));
        }
        if let Some(name) = self.file_name {
            response.insert_header(attached(&name));
        }
        if let Some(location) = self.location {
            response.insert_header(("Location", location));
        }
        match self.body {
            Some(body) => {
                response.content_type(self.media_type.as_deref().unwrap_or("application/json")).body(body)
            }
            None => response.finish(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_travel_as_strong_etags() {
        assert_eq!(version_of(&etag(17)), Some(17));
        for wrong in ["17", "v17", "W/\"v17\"", "\"v\"", "\"v1x\"", "*"] {
            assert_eq!(version_of(wrong), None, "{wrong}");
        }
    }
}
