//! Letters to parents: a sheet a pupil.

use std::fmt::Write as _;

use plumbline_core::{statutory::LetterText, time::Date};

use super::{day, document, escaped, name};

/// One letter.
pub struct Letter {
    /// The child's name.
    pub name: String,
    /// The child's class.
    pub class: Option<String>,
    /// What it says.
    pub text: LetterText,
}

/// The letters, each on a sheet of its own.
/// Each is dated, and has a place for somebody of the school to sign.
pub fn page(school: &str, title: &str, on: Date, letters: &[Letter]) -> String {
    let mut html = String::from("<main>\n");
    if letters.is_empty() {
        html.push_str("<p>Nobody asked for has a result in this window.</p>\n");
    }
    for letter in letters {
        let class = letter.class.as_ref().map(|class| format!(", class {}", name(class)));
        let _ = write!(
            html,
            "<section class=\"letter\">\n<p>{}<br>{}</p>\n<h1>{}</h1>\n<p>To the parents and carers of {}{}</p>\n",
            escaped(school),
            day(on),
            escaped(title),
            name(&letter.name),
            class.unwrap_or_default()
        );
        let _ = writeln!(html, "<p>{}</p>", escaped(&letter.text.what));
        let _ = writeln!(html, "<p><b>{}</b></p>", escaped(&letter.text.result));
        if let Some(outcome) = &letter.text.outcome {
            let _ = writeln!(html, "<p>{}</p>", escaped(outcome));
        }
        let _ = writeln!(html, "<p>{}</p>", escaped(&letter.text.is_not));
        html.push_str("<p class=\"hand\">For the school (name and role)</p>\n</section>\n");
    }
    html.push_str("</main>\n");
    document("Letters", &html)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_child_has_a_sheet_of_its_own_and_no_text_is_markup() {
        let text = |result: &str| LetterText {
            what: "What it is.".into(),
            result: result.into(),
            outcome: None,
            is_not: "What it is not.".into(),
        };
        let one = Letter { name: "Zo <b>".into(), class: Some("Alder".into()), text: text("Zo read 31.") };
        let two = Letter { name: "Max Bell".into(), class: None, text: text("Max was away.") };
        let on = Date::from_ymd_opt(2026, 7, 6).unwrap();
        let html = page("Farholt & Sons", "The check", on, &[one, two]);
        assert_eq!(html.matches("<p>Farholt &amp; Sons<br>6 July 2026</p>").count(), 2);
        assert_eq!(html.matches("class=\"hand\"").count(), 2, "a place to write a name by hand");
        assert_eq!(html.matches("<section class=\"letter\">").count(), 2);
        assert!(html.contains("<bdi>Zo &lt;b&gt;</bdi>, class <bdi>Alder</bdi>"));
        assert!(html.contains("<bdi>Max Bell</bdi></p>"));
        assert!(html.contains("break-after: page"), "a sheet a child");
        assert!(page("Farholt", "The check", on, &[]).contains("Nobody asked for"));
    }
}
