//! Sheets to print: HTML that carries its own style, black on white, and the page that opens a cover link.
//! Every text is escaped; a sheet has no script.

pub mod check;
pub mod cover;
pub mod handover;
pub mod letters;
pub mod log;
pub mod release;
pub mod transfer;

use std::{fmt::Write as _, sync::LazyLock};

use actix_web::{
    HttpResponse, get,
    http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY},
    web,
};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use plumbline_core::time::in_words as day;
use serde::Deserialize;
use sha2::{Digest as _, Sha256};
use utoipa::ToSchema;

/// The media type of a sheet.
pub const MEDIA_TYPE: &str = "text/html; charset=utf-8";

/// What every sheet looks like: A4 upright with margins of 12 mm, lines and no filled areas, so that a printer
/// of two colours and a copier lose nothing.
const STYLE: &str = include_str!("sheet.css");

/// The one style a sheet may have, by its digest.
static STYLE_DIGEST: LazyLock<String> = LazyLock::new(|| STANDARD.encode(Sha256::digest(STYLE)));

/// What a content security policy names to allow a sheet's style.
pub fn style_source() -> String {
    format!("'sha256-{}'", *STYLE_DIGEST)
}

/// As what a page comes.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PageFormat {
    /// For a program.
    #[default]
    Json,
    /// To print: A4, black on white.
    Html,
}

/// The content security policy of a sheet, with what else its page needs.
pub fn policy(more: &str) -> String {
    let style = style_source();
    format!(
        "default-src 'none'; style-src {style}; {more}base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'"
    )
}

/// A text inside an element or a quoted attribute.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// A name in whatever script, which runs its own way and turns nothing beside it round.
fn name(text: &str) -> String {
    format!("<bdi>{}</bdi>", escaped(text))
}

/// Correspondences in a list, each kept on one line.
fn unbroken(text: &str) -> String {
    escaped(text).replace(" /", "\u{a0}/")
}

/// The foot of a page of several.
fn numbered(page: usize, pages: usize, more: &str) -> String {
    format!("<footer><p>Page {page} of {pages}. {}</p></footer>\n", escaped(more))
}

/// A whole document.
fn document(title: &str, body: &str) -> String {
    let mut out = String::from("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    out.push_str(
        "<meta name=\"robots\" content=\"noindex\">\n<meta name=\"referrer\" content=\"no-referrer\">\n",
    );
    // Writing to a string cannot fail.
    let _ = write!(out, "<title>{}</title>\n<style>{STYLE}</style>\n</head>\n", escaped(title));
    let _ = write!(out, "<body>\n{body}</body>\n</html>\n");
    out
}

const OPENER: &str = include_str!("../../client/cover.html");
const OPENER_SCRIPT: &str = include_str!("../../client/cover.js");

#[get("/cover")]
async fn opener() -> HttpResponse {
    // The script puts the sheet, with its one style, in the place of this page.
    let policy = policy("script-src 'self'; connect-src 'self'; ");
    HttpResponse::Ok()
        .content_type(MEDIA_TYPE)
        .insert_header((CONTENT_SECURITY_POLICY, policy))
        .insert_header((CACHE_CONTROL, "no-store"))
        .body(document("Cover page", OPENER))
}

#[get("/cover.js")]
async fn opener_script() -> HttpResponse {
    HttpResponse::Ok().content_type("text/javascript; charset=utf-8").body(OPENER_SCRIPT)
}

/// Routes outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config.service(opener).service(opener_script);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_text_is_markup() {
        assert_eq!(escaped("<b>&\"'"), "&lt;b&gt;&amp;&quot;&#39;");
        assert_eq!(name("مريم"), "<bdi>مريم</bdi>");
    }

    #[test]
    fn a_sheet_is_black_on_white_with_its_margins_and_without_fills() {
        assert!(STYLE.contains("size: A4 portrait") && STYLE.contains("margin: 12mm"));
        for word in ["background", "url(", "@import", "gradient", "shadow", "<"] {
            assert!(!STYLE.contains(word), "{word}");
        }
        let colours: Vec<&str> = STYLE.split('#').skip(1).filter_map(|rest| rest.get(..3)).collect();
        assert!(colours.iter().all(|colour| *colour == "000"), "{colours:?}");
    }
}
