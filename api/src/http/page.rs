//! Pages of a list: opaque cursors and a bounded size.

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use utoipa::{IntoParams, ToSchema};

use super::problem::Problem;

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

/// How many rows to load for a page: one more than shown, to know whether it is the last.
pub fn one_more(limit: usize) -> i64 {
    i64::try_from(limit + 1).unwrap_or(i64::MAX)
}

/// Cuts rows to a page, and gives the cursor of the next one: the last row's key, where there are more.
pub fn cut<T, K: Serialize>(rows: &mut Vec<T>, limit: usize, key: impl Fn(&T) -> K) -> Option<String> {
    let more = rows.len() > limit;
    rows.truncate(limit);
    rows.last().filter(|_| more).and_then(|last| cursor(&key(last)))
}

/// A cursor that holds a key.
fn cursor(key: &impl Serialize) -> Option<String> {
    serde_json::to_vec(key).ok().map(|bytes| URL_SAFE_NO_PAD.encode(bytes))
}
