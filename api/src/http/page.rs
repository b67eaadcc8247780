//! Pages of a list: opaque cursors and a bounded size.

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::Datelike as _;
use plumbline_core::time::Date;
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use utoipa::{IntoParams, ToSchema};

use super::{body::YEARS, problem::Problem};

/// Which page of a list.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PageQuery {
    /// Where to go on: `next` of the page before. Nothing inside is meant to be read.
    pub cursor: Option<String>,
    /// How many, 1 to 500; 100 unless told.
    #[param(minimum = 1, maximum = 500)]
    pub limit: Option<u16>,
}

impl PageQuery {
    /// The size asked for.
    ///
    /// # Errors
    /// Names the field.
    pub fn limit(&self) -> Result<usize, Problem> {
        match self.limit.unwrap_or(100) {
            limit @ 1..=500 => Ok(usize::from(limit)),
            _ => Err(Problem::field("limit", "must be 1 to 500")),
        }
    }

    /// What the cursor holds.
    ///
    /// # Errors
    /// Names the field, for a cursor that is not one of ours.
    pub fn after<T: DeserializeOwned>(&self) -> Result<Option<T>, Problem> {
        let Some(cursor) = &self.cursor else { return Ok(None) };
        let bytes = URL_SAFE_NO_PAD.decode(cursor).map_err(|_| unknown_cursor())?;
        // No text of ours holds a NUL, and PostgreSQL takes none.
        if bytes.windows(6).any(|six| six == b"\\u0000") {
            return Err(unknown_cursor());
        }
        serde_json::from_slice(&bytes).map(Some).map_err(|_| unknown_cursor())
    }
}

/// The refusal of a cursor that is not one of the list's.
pub fn unknown_cursor() -> Problem {
    Problem::field("cursor", "is not a cursor of this list; start without one")
}

/// A day of a query, of the years a school can lie in.
///
/// # Errors
/// For text that is no such day.
pub fn day<'de, D: serde::Deserializer<'de>>(text: D) -> Result<Date, D::Error> {
    let day = Date::deserialize(text)?;
    if YEARS.contains(&day.year()) {
        Ok(day)
    } else {
        Err(serde::de::Error::custom("the year must be 1900 to 2200"))
    }
}

/// As [`day`], for a day that may be left out.
///
/// # Errors
/// For text that is no such day.
pub fn maybe_day<'de, D: serde::Deserializer<'de>>(text: D) -> Result<Option<Date>, D::Error> {
    day(text).map(Some)
}

/// A page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct Page<T> {
    /// The items, in the list's order.
    pub items: Vec<T>,
    /// Cursor of the next page; none on the last.
    pub next: Option<String>,
}

impl<T> Page<T> {
    /// The whole of a short list.
    pub const fn whole(items: Vec<T>) -> Self {
        Self { items, next: None }
    }
}

/// A cursor that holds a key.
pub fn cursor(key: &impl Serialize) -> Option<String> {
    serde_json::to_vec(key).ok().map(|bytes| URL_SAFE_NO_PAD.encode(bytes))
}
