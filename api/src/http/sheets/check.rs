//! A check on paper: what the pupil reads, large and without names of pupils or marks; or, where the pupil reads nothing, what
//! the adult says. Pages break between items.

use std::fmt::Write as _;

use plumbline_core::check::{CheckItem, CheckKind};

use super::{document, escaped, numbered};
use crate::store::CheckRow;

/// How items stand on a page, by how many letters the longest has: columns, and items in all. A word that a pupil
/// reads is 40 points high in rows of 12 mm more, a sentence 28 points.
fn layout(items: &[CheckItem]) -> (&'static str, usize) {
    match items.iter().map(|item| item.prompt.as_str().chars().count()).max().unwrap_or(0) {
        0..=4 => ("three", 24),
        5..=9 => ("two", 16),
        10..=14 => ("one", 9),
        15..=60 => ("one", 6),
        61..=120 => ("one", 3),
        _ => ("one", 2),
    }
}

/// The sheet of a check. `spelt` says how a word comes apart, for the adult who says its sounds.
pub fn page(check: &CheckRow, spelt: impl Fn(&CheckItem) -> Option<String>) -> String {
    if check.kind.is_heard() {
        return said(check, spelt);
    }
    let parts = sections(&check.items);
    let pages: usize = parts.iter().map(|part| part.len().div_ceil(layout(part).1)).sum();
    let (mut html, mut page, mut number) = (String::from("<main>\n"), 0, 0);
    for part in parts {
        let (columns, most) = layout(part);
        // A made-up word has a frame, so that the adult can say that it is none.
        let (framed, class) = match part.first().is_some_and(|item| check.kind.is_made_up(item.pseudo)) {
            true => (" framed", " class=\"made-up\""),
            false => ("", ""),
        };
        for items in part.chunks(most) {
            page += 1;
            let _ = writeln!(html, "<section class=\"page\">\n<ol class=\"shown {columns}{framed}\">");
            for item in items {
                number += 1;
                let prompt = escaped(item.prompt.as_str());
                let _ = writeln!(html, "<li><small>{number}</small><span{class}>{prompt}</span></li>");
            }
            html.push_str("</ol>\n");
            html.push_str(&numbered(page, pages, &told(check)));
            html.push_str("</section>\n");
        }
    }
    html.push_str("</main>\n");
    document("Check sheet", &html)
}

/// Which check a sheet is of, for whoever finds it: its name, its form where there are several, its version.
fn told(check: &CheckRow) -> String {
    let form = check.built.as_ref().map(|built| &built.recipe).filter(|recipe| recipe.forms > 1);
    let form = form.map(|recipe| format!(", form {}", recipe.form)).unwrap_or_default();
    format!("{}{form}, version {}", check.name, check.version)
}

/// Items of one section and kind stay together on pages of their own.
fn sections(items: &[CheckItem]) -> Vec<&[CheckItem]> {
    items.chunk_by(|a, b| (a.section, a.pseudo) == (b.section, b.pseudo)).collect()
}

/// For the adult: what to say. The pupil sees none of it.
fn said(check: &CheckRow, spelt: impl Fn(&CheckItem) -> Option<String>) -> String {
    const ON_A_PAGE: usize = 30;
    let blending = check.kind == CheckKind::OralBlending;
    let how = match blending {
        true => "Say the sounds one by one. The pupil says the word.",
        false => "Say the word, and again in a sentence of your own. The pupil writes it or says its sounds.",
    };
    let pages = check.items.chunks(ON_A_PAGE).collect::<Vec<_>>();
    let mut html = String::from("<main>\n");
    let mut number = 0;
    for (n, items) in pages.iter().enumerate() {
        let _ = write!(
            html,
            "<section class=\"page\">\n<h1>{}</h1>\n<p>For the adult. {how}</p>\n<table class=\"said\">\n<thead><tr>\
             <th scope=\"col\" class=\"number\">No.</th><th scope=\"col\">Word</th>",
            escaped(&check.name)
        );
        if blending {
            html.push_str("<th scope=\"col\">Sounds to say</th><th scope=\"col\">In IPA</th>");
        }
        html.push_str("</tr></thead>\n<tbody>\n");
        for item in *items {
            number += 1;
            let _ =
                write!(html, "<tr><td>{number}</td><th scope=\"row\">{}</th>", escaped(item.prompt.as_str()));
            if blending {
                let sounds = item.sounds.as_deref().unwrap_or_default().replace('.', APART);
                let letters = spelt(item).unwrap_or_default();
                let _ = write!(html, "<td>{}</td><td>{}</td>", escaped(&letters), escaped(&sounds));
            }
            html.push_str("</tr>\n");
        }
        html.push_str("</tbody>\n</table>\n");
        html.push_str(&numbered(n + 1, pages.len(), &told(check)));
        html.push_str("</section>\n");
    }
    html.push_str("</main>\n");
    document("Check sheet for the adult", &html)
}

/// What stands between sounds said one by one.
pub const APART: &str = " · ";

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

    fn sheet(check: &CheckRow) -> String {
        page(check, |item| (item.prompt.as_str() == "ship").then(|| "sh · i · p".to_owned()))
    }

    fn pages(html: &str) -> usize {
        html.matches("<section class=\"page\">").count()
    }

    #[test]
    fn what_the_pupil_reads_has_no_mark_and_says_which_check_it_is_at_its_foot() {
        let words: Vec<String> = (0..25).map(|n| format!("word{n}")).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let html = sheet(&check(CheckKind::WordReading, &words));
        // Sixteen short words a page, numbered as on the log sheet.
        assert_eq!(pages(&html), 2);
        assert!(html.contains("Page 2 of 2. Words &amp; &lt;more&gt;, version 1"), "{html}");
        assert!(!html.contains("<td") && !html.contains("<h1"), "{html}");
        for (n, word) in words.iter().enumerate() {
            assert!(html.contains(&format!("<small>{}</small><span>{word}</span>", n + 1)), "{word}");
        }
        // Of graphemes three stand side by side.
        let html = sheet(&check(CheckKind::GpcRecognition, &["igh"; 24]));
        assert_eq!((pages(&html), html.matches("shown three").count()), (1, 1));
    }

    #[test]
    fn made_up_words_have_a_frame_and_sections_their_pages() {
        let mut practice = check(CheckKind::PracticeCheck, &["bamp", "frowl", "cat", "ship"]);
        for (n, item) in practice.items.iter_mut().enumerate() {
            (item.section, item.pseudo) = (Some(1), n < 2);
        }
        let html = sheet(&practice);
        assert_eq!(pages(&html), 2);
        assert!(html.contains("<small>1</small><span class=\"made-up\">bamp</span>"), "{html}");
        assert!(html.contains("<small>3</small><span>cat</span>"), "numbers go on: {html}");
    }

    #[test]
    fn what_is_heard_is_on_a_sheet_for_the_adult() {
        let mut blending = check(CheckKind::OralBlending, &["ship"]);
        blending.items[0].sounds = Some("ʃ.ɪ.p".into());
        let html = sheet(&blending);
        assert!(html.contains("For the adult."), "{html}");
        let row = "<tr><td>1</td><th scope=\"row\">ship</th><td>sh · i · p</td><td>ʃ · ɪ · p</td></tr>";
        assert!(html.contains(row), "{html}");
        assert!(html.contains("<h1>Words &amp; &lt;more&gt;</h1>") && html.contains(", version 1"), "{html}");
        assert!(!sheet(&check(CheckKind::Spelling, &["ship"])).contains("sh ·"));
    }
}
