//! POST /cover-pages

use actix_web::{post, web};
use plumbline_core::access::{
    act::{Manage, Read},
    resource::{CoverLinks, Group},
};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use super::{CoverPageBody, answer, load, make};
use crate::{
    auth::secret::read_cover_link_token,
    http::{
        Api,
        body::Body,
        caller::{Caller, blocking},
        problem::{Code, Problem},
        problems::SignInProblems,
        query::Query,
        reply::Reply,
        sheets::PageFormat,
    },
    store::{Opened, Tx},
};

/// What stands in a link.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"token": "AZnyxAAAcACAAAAAAAAAAQ"}))]
pub struct CoverToken {
    /// What follows the `#`.
    pub token: String,
}

/// As what the page comes.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FormatQuery {
    /// `json` unless told; `html` to print.
    #[serde(default)]
    #[param(inline)]
    pub format: PageFormat,
}

/// The same answer for every link that does not hold.
fn does_not_hold() -> Problem {
    let detail = "this link opens no page: it is for another day, or is over, or was taken back. \
        Ask the school for another";
    Problem::saying(Code::NotFound, detail)
}

/// Open the cover page of a link
///
/// Without an account: shows the page of the link's group and day, and can do nothing else. Who teaches the
/// group as a rule is taken to be away. The secret is sent
/// in the body, so that it stands in no address and no log. The link ends with its day, when it is taken back,
/// and when whoever made it may not make it any more. Each opening is written to the audit log, as of the link.
#[utoipa::path(
    tag = "cover", operation_id = "open_cover_page", request_body = CoverToken, params(FormatQuery), security(()),
    responses((status = 200, description = "The page", content(
        (CoverPageBody = "application/json"),
        (String = "text/html", example = "<!doctype html><html lang=\"en\"><title>Cover page</title></html>")
    )), SignInProblems)
)]
#[post("/cover-pages")]
pub async fn open_cover_page(
    api: web::Data<Api>,
    query: Query<FormatQuery>,
    body: Body<CoverToken>,
) -> Result<Reply, Problem> {
    let format = query.format;
    let key = read_cover_link_token(&body.value.token).ok_or_else(does_not_hold)?;
    // With the school said: what is answered of another school's says nothing of this link.
    let (link, now) = (format!("{} {}", key.school, key.id), api.store.clock().now());
    let wait = |seconds| Problem::new(Code::TooManyAttempts).after(seconds);
    api.link_throttle.attempt(&link, now).map_err(wait)?;
    let holder = Caller::with_link(api.clone(), key);
    let known = holder.read(|_| Ok(())).await;
    // A right secret counts as no guess, whether or not the link holds at the moment.
    if known.as_ref().map_or_else(|problem| problem.code() == Code::SignedOut, |()| true) {
        api.link_throttle.succeeded(&link);
    }
    known.map_err(as_of_a_link)?;
    let school = holder.words().await?;
    let open = |tx: &mut Tx<'_>| {
        let opened = still_allowed(tx)?;
        load(tx, opened.group, Some(opened.on), None)
    };
    let facts = holder.read_logged("cover_page.open", open).await.map_err(as_of_a_link)?;
    blocking(move || answer(&make(&school, facts), format)).await
}

/// What the link leads to, if whoever made it may still make it.
fn still_allowed(tx: &mut Tx<'_>) -> Result<Opened, Problem> {
    let opened = tx.opened().ok_or_else(does_not_hold)?;
    tx.permit::<Manage, _>(CoverLinks(opened.group))?;
    let group = tx.permit::<Read, _>(Group(opened.group))?;
    if tx.group(&group)?.closed_on.is_some_and(|last| last < opened.on) {
        return Err(does_not_hold());
    }
    Ok(opened)
}

/// Whatever the maker is refused, the holder is told alike.
fn as_of_a_link(problem: Problem) -> Problem {
    match problem.code() {
        Code::NotFound | Code::Forbidden | Code::SignedOut => does_not_hold(),
        _ => problem,
    }
}
