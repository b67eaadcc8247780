//! A check on paper: what the pupil reads, large and without names or marks; or, where the pupil reads nothing, what
//! the adult says. Pages break between items.

use std::fmt::Write as _;

use plumbline_core::check::{CheckItem, CheckKind};

use super::{document, escaped, numbered};
use crate::store::CheckRow;

/// Items on a page, by how long the longest is in letters: four rows of a few words, or sentences below each other.
fn on_a_page(items: &[CheckItem]) -> usize {
    match items.iter().map(|item| item.prompt.as_str().chars().count()).max().unwrap_or(0) {
        0..=5 => 12,
        6..=9 => 8,
        10..=14 => 6,
        15..=60 => 4,
        _ => 2,
    }
}

/// The sheet of a check.
pub fn page(check: &CheckRow) -> String {
    if check.kind.is_heard() {
        return said(check);
    }
    let parts: Vec<&[CheckItem]> = sections(&check.items);
    let pages: Vec<(&[CheckItem], usize)> = parts
        .into_iter()
        .flat_map(|part| part.chunks(on_a_page(part)).map(move |page| (page, on_a_page(part))))
        .collect();
    let mut html = String::from("<main>\n");
    for (n, (items, most)) in pages.iter().enumerate() {
        let wide = if *most <= 6 { " one" } else { " two" };
        let _ = writeln!(html, "<section class=\"page\">\n<ol class=\"shown{wide}\">");
        for item in *items {
            // A made-up word has a frame, so that the adult can say that it is none.
            let class = if is_made_up(check.kind, item) { " class=\"made-up\"" } else { "" };
            let _ = writeln!(html, "<li><span{class}>{}</span></li>", escaped(item.prompt.as_str()));
        }
        html.push_str("</ol>\n");
        html.push_str(&numbered(n + 1, pages.len(), ""));
        html.push_str("</section>\n");
    }
    html.push_str("</main>\n");
    document("Check sheet", &html)
}

fn is_made_up(kind: CheckKind, item: &CheckItem) -> bool {
    item.pseudo || kind == CheckKind::PseudoWordReading
}

/// Items of one section and kind stay together on pages of their own.
fn sections(items: &[CheckItem]) -> Vec<&[CheckItem]> {
    items.chunk_by(|a, b| (a.section, a.pseudo) == (b.section, b.pseudo)).collect()
}

/// For the adult: what to say. The pupil sees none of it.
fn said(check: &CheckRow) -> String {
    const ON_A_PAGE: usize = 30;
    let (what, how) = match check.kind {
        CheckKind::OralBlending => ("Sounds to say", "Say the sounds one by one. The pupil says the word."),
        _ => (
            "Word to say",
            "Say the word, and again in a sentence of your own. The pupil writes it or says its sounds.",
        ),
    };
    let pages = check.items.chunks(ON_A_PAGE).collect::<Vec<_>>();
    let mut html = String::from("<main>\n");
    let mut number = 0;
    for (n, items) in pages.iter().enumerate() {
        let _ = write!(
            html,
            "<section class=\"page\">\n<h1>{}</h1>\n<p>For the adult. {how}</p>\n<table class=\"said\">\n<thead><tr>\
             <th scope=\"col\" class=\"number\">No.</th><th scope=\"col\">{what}</th>",
            escaped(&check.name)
        );
        if check.kind == CheckKind::OralBlending {
            html.push_str("<th scope=\"col\">Word</th>");
        }
        html.push_str("</tr></thead>\n<tbody>\n");
        for item in *items {
            number += 1;
            let word = escaped(item.prompt.as_str());
            let _ = match item.sounds.as_ref().filter(|_| check.kind == CheckKind::OralBlending) {
                Some(sounds) => {
                    let sounds = escaped(&sounds.replace('.', "   "));
                    writeln!(
                        html,
                        "<tr><td>{number}</td><td class=\"sounds\">{sounds}</td><th scope=\"row\">{word}</th></tr>"
                    )
                }
                None => writeln!(html, "<tr><td>{number}</td><th scope=\"row\">{word}</th></tr>"),
            };
        }
        html.push_str("</tbody>\n</table>\n");
        html.push_str(&numbered(n + 1, pages.len(), ""));
        html.push_str("</section>\n");
    }
    html.push_str("</main>\n");
    document("Check sheet for the adult", &html)
}

#[cfg(test)]
mod tests {
    use plumbline_core::{
        id::{CheckId, CheckItemId},
        text::Title,
    };
    use uuid::Uuid;

    use super::*;

    fn check(kind: CheckKind, prompts: &[&str]) -> CheckRow {
        let item = |(n, prompt): (usize, &&str)| {
            let id = CheckItemId::from_uuid(Uuid::from_u128(n as u128));
            CheckItem::new(id, Title::new(prompt).unwrap())
        };
        let id = CheckId::from_uuid(Uuid::nil());
        CheckRow {
            id,
            name: "Words & <more>".into(),
            kind,
            items: prompts.iter().enumerate().map(item).collect(),
            series: id,
            version: 1,
            built: None,
            v: 1,
        }
    }

    #[test]
    fn what_the_pupil_reads_has_no_name_and_no_mark() {
        let words: Vec<String> = (0..25).map(|n| format!("w{n}")).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let html = page(&check(CheckKind::WordReading, &words));
        // Twelve short words a page.
        assert_eq!(html.matches("<section class=\"page\">").count(), 3);
        assert!(html.contains("Page 3 of 3"), "{html}");
        assert!(!html.contains("Words &amp;") && !html.contains("<td"), "{html}");
        assert_eq!(words.iter().filter(|word| html.contains(&format!("<span>{word}</span>"))).count(), 25);
    }

    #[test]
    fn made_up_words_have_a_frame_and_sections_their_pages() {
        let mut practice = check(CheckKind::PracticeCheck, &["bamp", "frowl", "cat", "ship"]);
        for (n, item) in practice.items.iter_mut().enumerate() {
            (item.section, item.pseudo) = (Some(1), n < 2);
        }
        let html = page(&practice);
        assert_eq!(html.matches("<section class=\"page\">").count(), 2);
        assert!(html.contains("<span class=\"made-up\">bamp</span>") && html.contains("<span>cat</span>"));
    }

    #[test]
    fn what_is_heard_is_on_a_sheet_for_the_adult() {
        let mut blending = check(CheckKind::OralBlending, &["ship"]);
        blending.items[0].sounds = Some("ʃ.ɪ.p".into());
        let html = page(&blending);
        assert!(html.contains("For the adult.") && html.contains("ʃ   ɪ   p"), "{html}");
        assert!(html.contains("Words &amp; &lt;more&gt;"), "{html}");
    }
}
