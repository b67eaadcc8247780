//! The one table from refusals to HTTP. Answers are RFC 9457 problem details.
//!
//! The detail is for a person and holds no pupil data; what went wrong inside is logged
//! and never sent.

mod decisions;
mod gathered;

pub use gathered::Gathered;

use actix_web::{HttpRequest, HttpResponse, Responder, ResponseError, http::StatusCode};
use plumbline_core::{access::Refused, text::shortened};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::Error as StoreError;

macro_rules! codes {
    ($($(#[$doc:meta])* $variant:ident $word:literal $status:literal $title:literal;)+) => {
        /// Every problem the API answers with.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
        pub enum Code { $($(#[$doc])* #[serde(rename = $word)] $variant),+ }

        impl Code {
            /// Every code, with its status and title: the table of the documentation.
            pub const TABLE: &'static [(Self, u16, &'static str)] = &[$((Self::$variant, $status, $title)),+];

            /// Its HTTP status.
            pub const fn status(self) -> u16 {
                match self { $(Self::$variant => $status),+ }
            }

            /// Its title.
            pub const fn title(self) -> &'static str {
                match self { $(Self::$variant => $title),+ }
            }

            /// Its spelling.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }
    };
}

// By hand: the derive macro cannot read a spelling that came through a macro.
impl utoipa::PartialSchema for Code {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::schema::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .enum_values(Some(Self::TABLE.iter().map(|(code, ..)| code.as_str())))
            .description(Some("Every problem the API answers with."))
            .into()
    }
}
impl ToSchema for Code {}

codes! {
    /// The body is not JSON.
    MalformedBody "malformed_body" 400 "The body is not well-formed JSON";
    /// No access token, or one that does not hold.
    Unauthenticated "unauthenticated" 401 "Sign in first";
    /// The access token has run out: refresh it.
    TokenExpired "token_expired" 401 "The access token has expired";
    /// The sign-in was ended, or the account disabled.
    SignedOut "signed_out" 401 "The sign-in has ended";
    /// E-mail address or password is wrong; which, is not said.
    BadCredentials "bad_credentials" 401 "E-mail address or password is wrong";
    /// The refresh token does not hold.
    BadRefreshToken "bad_refresh_token" 401 "The refresh token does not hold";
    /// The role does not allow it.
    Forbidden "forbidden" 403 "Your role does not allow this";
    /// The tablet was revoked: what it holds is to be wiped. Operations it still sends are kept for the lead.
    TabletRevoked "tablet_revoked" 403 "This tablet was revoked";
    /// The tablet was revoked, and some of what it still sends could not be kept: it keeps it and sends it again later.
    HoldsNoMore "holds_no_more" 409 "This tablet was revoked, and no more of what it sends can be kept until the lead has looked at it";
    /// Not there, or not for the caller to know.
    NotFound "not_found" 404 "There is no such resource";
    /// The address has no such operation.
    MethodNotAllowed "method_not_allowed" 405 "This address does not take that method";
    /// The body did not arrive in time.
    TooSlow "too_slow" 408 "The body did not arrive in time";
    /// Something else stands in the way.
    Conflict "conflict" 409 "Something else stands in the way";
    /// The account works in several schools: send one of their ids.
    ChooseSchool "choose_school" 409 "Choose one of your schools";
    /// The import was shown against a roster that has changed since.
    ImportStale "import_stale" 409 "The roster has changed since the preview";
    /// The rollover was shown against a roster that has changed since.
    RolloverStale "rollover_stale" 409 "The roster has changed since the plan was saved";
    /// The groups were proposed when others, or other pupils, were there.
    GroupProposalStale "group_proposal_stale" 409 "Groups or pupils have changed since the proposal";
    /// Operations before these are missing; `expected` is the number that is due.
    OpGap "op_gap" 409 "Operations are missing before these";
    /// A backup was restored since: pull first.
    EpochChanged "epoch_changed" 409 "A backup was restored since";
    /// It was there; its time is over.
    Gone "gone" 410 "No longer kept";
    /// Changed by someone else since it was read.
    Stale "stale" 412 "Changed since you read it";
    /// Larger than allowed.
    TooLarge "too_large" 413 "The body is too large";
    /// Not a media type this operation takes.
    UnsupportedMediaType "unsupported_media_type" 415 "Another media type or coding is taken here";
    /// A field is wrong; `errors` says which and why.
    Invalid "invalid" 422 "Some fields are wrong";
    /// The draft cannot be published; `errors` says why.
    NotPublishable "not_publishable" 422 "The draft cannot be published yet";
    /// An Idempotency-Key was used for another request.
    IdempotencyKeyReused "idempotency_key_reused" 422 "This Idempotency-Key belongs to another request";
    /// Another operation was sent under this number, or it was acknowledged before: go on under a new replica.
    OpReused "op_reused" 422 "This number belongs to another operation";
    /// What the device sends is in a form this server takes no longer.
    SchemaTooOld "schema_too_old" 426 "Reload the application: it is too old for this server";
    /// An edit must say which version it is based on.
    PreconditionRequired "precondition_required" 428 "Send If-Match with the ETag you read";
    /// Too many attempts.
    TooManyAttempts "too_many_attempts" 429 "Too many attempts; wait a little";
    /// A fault of the server; the request id finds it in the log.
    Internal "internal" 500 "The server made a mistake";
    /// Too much to do; try again.
    Busy "busy" 503 "The server is busy; try again in a moment";
    /// The database did not answer whether it was written: look before doing it again, or
    /// repeat it with the same Idempotency-Key.
    Unclear "outcome_unknown" 503 "It is not known whether this was written";
    /// The disk is full; nothing was written, reading goes on.
    StorageFull "storage_full" 507 "The server's disk is full; nothing was written";
}

/// What is wrong with one field.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FieldError {
    /// The field's path, as in `register[2].mark`.
    #[schema(example = "register[2].mark")]
    pub field: String,
    /// What is wrong, for a person.
    #[schema(example = "must not be empty")]
    pub message: String,
}

impl FieldError {
    fn shortened(&self) -> Self {
        Self { field: shortened(&self.field, LONGEST), message: shortened(&self.message, LONGEST) }
    }
}

/// The most characters of a complaint: it may repeat what was sent, and that may be long.
const LONGEST: usize = 600;

/// The most wrong fields that are listed: nobody mends more of them at a time.
const MOST_ERRORS: usize = 200;

/// That more fields are wrong than are listed.
fn listed(errors: usize) -> Option<String> {
    (errors > MOST_ERRORS).then(|| format!("{errors} fields are wrong; the first {MOST_ERRORS} are listed"))
}

/// A school to choose.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SchoolChoice {
    /// Its id.
    pub id: plumbline_core::id::SchoolId,
    /// Its name.
    pub name: String,
}

/// A refusal, ready to be answered.
#[derive(Debug)]
pub struct Problem {
    code: Code,
    // Boxed, so that a Result with a Problem stays small.
    detail: Option<Box<str>>,
    errors: Vec<FieldError>,
    schools: Option<Box<[SchoolChoice]>>,
    retry_after: Option<u32>,
    accept_encoding: Option<&'static str>,
    stands_at: Option<Box<str>>,
    expected: Option<i64>,
}

/// A refusal as sent: RFC 9457, `application/problem+json`.
#[derive(Debug, Serialize, ToSchema)]
#[schema(example = json!({
    "type": "urn:plumbline:problem:invalid", "title": "Some fields are wrong", "status": 422,
    "code": "invalid", "detail": null,
    "errors": [{"field": "on", "message": "2026-12-01 is in the future"}]
}))]
pub struct ProblemBody {
    /// A URN of the code.
    #[serde(rename = "type")]
    pub kind: String,
    /// The code's title.
    pub title: &'static str,
    /// The HTTP status.
    pub status: u16,
    /// What a program acts on.
    pub code: Code,
    /// What happened this time, for a person.
    pub detail: Option<String>,
    /// Fields at fault.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
    /// For `choose_school`: the schools.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub schools: Vec<SchoolChoice>,
    /// Where what stands in the way is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stands_at: Option<String>,
    /// For `op_gap`: the number of the operation that is due.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<i64>,
}

impl Problem {
    /// A problem without more to say than its title.
    pub const fn new(code: Code) -> Self {
        Self {
            code,
            detail: None,
            errors: Vec::new(),
            schools: None,
            retry_after: None,
            accept_encoding: None,
            stands_at: None,
            expected: None,
        }
    }

    /// A problem with a word for a person.
    pub fn saying(code: Code, detail: impl Into<String>) -> Self {
        Self { detail: Some(detail.into().into_boxed_str()), ..Self::new(code) }
    }

    /// One wrong field.
    pub fn field(field: impl Into<String>, message: impl ToString) -> Self {
        Self::fields([FieldError { field: field.into(), message: message.to_string() }])
    }

    /// Wrong fields.
    pub fn fields(errors: impl IntoIterator<Item = FieldError>) -> Self {
        Self { errors: errors.into_iter().collect(), ..Self::new(Code::Invalid) }
    }

    /// The same with another code.
    #[must_use]
    pub fn with_code(self, code: Code) -> Self {
        Self { code, ..self }
    }

    /// The wrong fields.
    pub fn errors(&self) -> &[FieldError] {
        &self.errors
    }

    /// The same with a word on the whole.
    #[must_use]
    pub fn explained(self, detail: &str) -> Self {
        Self { detail: Some(detail.into()), ..self }
    }

    /// The same with every wrong field said in another way.
    #[must_use]
    pub fn map_fields(self, change: impl Fn(FieldError) -> FieldError) -> Self {
        Self { errors: self.errors.into_iter().map(change).collect(), ..self }
    }

    /// The same, to be tried again after some seconds.
    #[must_use]
    pub fn after(self, seconds: u64) -> Self {
        Self { retry_after: Some(u32::try_from(seconds).unwrap_or(u32::MAX)), ..self }
    }

    /// The same, with the address of what stands in the way.
    #[must_use]
    pub fn standing_at(self, address: String) -> Self {
        Self { stands_at: Some(address.into()), ..self }
    }

    /// The same, naming the codings a body may have.
    #[must_use]
    pub fn accepting(self, codings: &'static str) -> Self {
        Self { accept_encoding: Some(codings), ..self }
    }

    /// The same, with the number that is due.
    #[must_use]
    pub fn expecting(self, n: i64) -> Self {
        Self { expected: Some(n), ..self }
    }

    /// What happened, for a person: the word on the whole, or what is wrong with the first field.
    pub fn said(&self) -> Option<&str> {
        self.detail.as_deref().or_else(|| self.errors.first().map(|error| error.message.as_str()))
    }

    /// Schools to choose from.
    pub fn choose(schools: Vec<SchoolChoice>) -> Self {
        Self {
            schools: Some(schools.into()),
            ..Self::saying(Code::ChooseSchool, "send the school_id of one of these")
        }
    }

    /// Its code.
    pub const fn code(&self) -> Code {
        self.code
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.code.as_str())
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.code.status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        let body = ProblemBody {
            kind: format!("urn:plumbline:problem:{}", self.code.as_str()),
            title: self.code.title(),
            status: self.code.status(),
            code: self.code,
            detail: self
                .detail
                .as_deref()
                .map(|detail| shortened(detail, LONGEST))
                .or_else(|| listed(self.errors.len())),
            errors: self.errors.iter().take(MOST_ERRORS).map(FieldError::shortened).collect(),
            schools: self.schools.as_deref().unwrap_or_default().to_vec(),
            stands_at: self.stands_at.as_deref().map(str::to_owned),
            expected: self.expected,
        };
        let mut response = HttpResponse::build(self.status_code());
        if self.code.status() == 401 {
            response.insert_header(("WWW-Authenticate", "Bearer"));
        }
        if let Some(seconds) = self.retry_after {
            response.insert_header(("Retry-After", seconds.to_string()));
        }
        if let Some(codings) = self.accept_encoding {
            response.insert_header(("Accept-Encoding", codings));
        }
        let text = serde_json::to_string(&body).unwrap_or_default();
        response.content_type("application/problem+json").body(text)
    }
}

impl Responder for Problem {
    type Body = actix_web::body::BoxBody;
    fn respond_to(self, _request: &HttpRequest) -> HttpResponse {
        self.error_response()
    }
}

impl crate::store::Failure for Problem {
    fn was_in_the_way(&self) -> bool {
        self.code == Code::Busy
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Refused(Refused::Forbidden) => Self::new(Code::Forbidden),
            StoreError::Refused(Refused::Hidden) | StoreError::Missing => Self::new(Code::NotFound),
            StoreError::NotKept => Self::new(Code::Gone),
            StoreError::SignedOut => Self::new(Code::SignedOut),
            StoreError::TabletRevoked => Self::new(Code::TabletRevoked),
            StoreError::Conflict => Self::new(Code::Conflict),
            StoreError::Busy => Self::new(Code::Busy).after(1),
            StoreError::Taken(field) => Self::field(field, "belongs to another").with_code(Code::Conflict),
            StoreError::Unclear => Self::new(Code::Unclear).after(1),
            StoreError::Full => Self::new(Code::StorageFull),
            StoreError::Damaged(_) | StoreError::Db(_) => {
                tracing::error!(%error, "store");
                Self::new(Code::Internal)
            }
        }
    }
}

impl From<serde_json::Error> for Problem {
    fn from(error: serde_json::Error) -> Self {
        tracing::error!(%error, "serialising an answer");
        Self::new(Code::Internal)
    }
}
