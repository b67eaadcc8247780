//! The parameters after the question mark: strict, each named in the complaint about it.

use std::ops::Deref;

use actix_web::{FromRequest, HttpRequest, dev::Payload};
use serde::de::DeserializeOwned;

use super::{
    body::{check_day, complaint},
    problem::Problem,
    wording::for_a_person,
};

/// Parsed parameters.
pub struct Query<T>(T);

impl<T> Query<T> {
    /// The parameters themselves.
    pub fn into_inner(self) -> T {
        self.0
    }
}

impl<T> Deref for Query<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _payload: &mut Payload) -> Self::Future {
        std::future::ready(parse(request.query_string()).map(Self))
    }
}

fn parse<T: DeserializeOwned>(query: &str) -> Result<T, Problem> {
    let pairs = form_urlencoded::parse(query.as_bytes());
    for (name, value) in pairs {
        check_day(&name, &name, &value)?;
    }
    let parameters = serde_urlencoded::Deserializer::new(pairs);
    serde_path_to_error::deserialize(parameters).map_err(|error| {
        let path = error.path().to_string();
        complaint(path, &for_a_person(&error.into_inner().to_string()))
    })
}
