//! The problems each sort of operation answers with, for the OpenAPI document.

use std::collections::BTreeMap;

use utoipa::{
    IntoResponses,
    openapi::{
        Ref, RefOr,
        content::ContentBuilder,
        response::{Response, ResponseBuilder},
    },
};

use super::problem::Code;

fn responses(statuses: &[u16]) -> BTreeMap<String, RefOr<Response>> {
    statuses
        .iter()
        .map(|status| {
            let codes: Vec<String> = Code::TABLE
                .iter()
                .filter(|(_, of, _)| of == status)
                .map(|(code, _, title)| format!("`{}`: {title}", code.as_str()))
                .collect();
            let body = ContentBuilder::new().schema(Some(Ref::from_schema_name("ProblemBody"))).build();
            let response = ResponseBuilder::new()
                .description(codes.join("; "))
                .content("application/problem+json", body)
                .build();
            (status.to_string(), response.into())
        })
        .collect()
}

macro_rules! sets {
    ($($(#[$doc:meta])* $name:ident: $statuses:expr;)+) => {
        $($(#[$doc])* pub struct $name;
        impl IntoResponses for $name {
            fn responses() -> BTreeMap<String, RefOr<Response>> {
                responses(&$statuses)
            }
        })+
    };
}

sets! {
    /// Of an operation that only reads.
    ReadProblems: [401, 403, 404, 422, 500, 503];
    /// Of an operation that adds.
    CreateProblems: [400, 401, 403, 404, 408, 409, 413, 415, 422, 500, 503, 507];
    /// Of an operation that changes something with an ETag.
    EditProblems: [400, 401, 403, 404, 408, 409, 412, 413, 415, 422, 428, 500, 503, 507];
    /// Of an operation that changes or removes without a body.
    ActProblems: [401, 403, 404, 409, 412, 428, 500, 503, 507];
    /// Further, of an operation on rows that are kept for a time only.
    GoneProblems: [410];
    /// Further, of what devices send and fetch.
    SyncProblems: [426];
    /// Further, of reading what is locked once it was submitted.
    LockedProblems: [409];
    /// Further, of an operation that takes an ETag where one is sent.
    StaleProblems: [412];
    /// Of signing in and accepting an invitation.
    SignInProblems: [400, 401, 404, 408, 409, 413, 415, 422, 429, 500, 503, 507];
}
