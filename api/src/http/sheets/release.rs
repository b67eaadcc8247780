//! A release to be read and printed: each measure as a table, each figure's bar in its row.

use std::fmt::Write as _;

use plumbline_core::report::paper::{BASIS, Bar, INSTEAD, Line, Measured, NOTHING, Paper, Part, SAYS, Said};

use super::{document, escaped, name};
use crate::files::chart::{Size, strokes};

/// How large a bar is, in units of its drawing.
const BAR: Size = Size { width: 204.0, height: 16.0 };

/// The page.
pub fn page(paper: &Paper) -> String {
    let mut html = format!(
        "<main class=\"release\">\n<h1>{}</h1>\n<p><b>{}</b></p>\n<p>{}</p>\n<h2>{SAYS}</h2>\n<ul>\n",
        escaped(&paper.title),
        escaped(paper.readers),
        escaped(&paper.as_of)
    );
    for said in &paper.says {
        let _ = writeln!(html, "<li>{}</li>", escaped(said));
    }
    html.push_str("</ul>\n");
    for one in &paper.measures {
        measure(&mut html, one);
    }
    list(&mut html, NOTHING, &paper.nothing);
    if !paper.symbols.is_empty() {
        let _ = writeln!(html, "<h2>{INSTEAD}</h2>\n<ul>");
        for (code, label) in &paper.symbols {
            let _ = writeln!(html, "<li><b>{}</b>: {}</li>", escaped(code), escaped(label));
        }
        html.push_str("</ul>\n");
    }
    list(&mut html, BASIS, &paper.basis);
    html.push_str("</main>\n");
    document(&paper.title, &html)
}

/// Lines under a heading; nothing where there are none.
fn list(html: &mut String, heading: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(html, "<h2>{heading}</h2>\n<ul>");
    for said in lines {
        let _ = writeln!(html, "<li>{}</li>", escaped(said));
    }
    html.push_str("</ul>\n");
}

fn measure(html: &mut String, measure: &Measured) {
    let called = escaped(&measure.name);
    let _ = writeln!(html, "<h2>{called}</h2>");
    for said in std::iter::once(&measure.means).chain(&measure.notes) {
        let _ = writeln!(html, "<p class=\"means\">{}</p>", escaped(said));
    }
    let _ = writeln!(html, "<table class=\"figures\">\n<caption>{called}, by group</caption>");
    html.push_str("<thead><tr><th scope=\"col\">Group</th>");
    for column in &measure.columns {
        let _ = write!(html, "<th scope=\"col\" class=\"told\">{column}</th>");
    }
    html.push_str(
        "<th scope=\"col\" class=\"drawn\"><div class=\"axis\"><span>0</span> <span>50</span> <span>100%</span></div></th>\
         </tr></thead>\n",
    );
    for one in &measure.parts {
        part(html, one, measure.columns.len());
    }
    html.push_str("</table>\n");
}

fn part(html: &mut String, part: &Part, columns: usize) {
    html.push_str("<tbody>\n");
    if let Some(by) = &part.by {
        let across = columns + 2;
        let _ = writeln!(
            html,
            "<tr class=\"by\"><th scope=\"rowgroup\" colspan=\"{across}\">{}</th></tr>",
            escaped(by)
        );
    }
    for one in &part.lines {
        line(html, one, columns);
    }
    html.push_str("</tbody>\n");
}

fn line(html: &mut String, line: &Line, columns: usize) {
    let _ = write!(html, "<tr><th scope=\"row\">{}</th>", name(&line.name));
    match &line.said {
        Said::Figure { cells, bar } => {
            for cell in cells {
                let _ = write!(html, "<td class=\"told\">{}</td>", escaped(cell));
            }
            html.push_str("<td class=\"drawn\">");
            draw(html, bar);
            html.push_str("</td></tr>\n");
        }
        Said::Instead(symbol, word) => {
            let _ = writeln!(
                html,
                "<td class=\"told\" colspan=\"{columns}\">{symbol}</td><td class=\"drawn\">{word}</td></tr>"
            );
        }
    }
}

/// The cells before it say the same, so it is for the eye alone.
fn draw(html: &mut String, bar: &Bar) {
    let Size { width, height } = BAR;
    let _ = write!(html, "<svg viewBox=\"0 0 {width} {height}\" aria-hidden=\"true\" focusable=\"false\">");
    for pen in strokes(bar, BAR) {
        let dashes = if pen.dashed { " stroke-dasharray=\"3 2\"" } else { "" };
        let _ = write!(html, "<path stroke-width=\"{}\"{dashes} d=\"", pen.width);
        for [x1, y1, x2, y2] in pen.lines {
            let _ = write!(html, "M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}");
        }
        html.push_str("\"/>");
    }
    html.push_str("</svg>");
}

#[cfg(test)]
mod tests {
    use plumbline_core::report::Symbol;

    use super::*;

    fn paper(lines: Vec<Line>) -> Paper {
        let parts = vec![Part { by: Some("Class".into()), lines }];
        let measure = Measured {
            name: "Words & more".into(),
            means: "M.".into(),
            notes: vec!["Of <then>.".into()],
            columns: vec!["Pupils", "Per cent"],
            parts,
        };
        Paper {
            title: "Phonics, Autumn 2".into(),
            readers: "For governors and staff. Keep it among them.",
            as_of: "As of 18 December 2026.".into(),
            says: vec!["It says nothing about any one pupil.".into()],
            measures: vec![measure],
            nothing: Vec::new(),
            symbols: vec![("c".into(), "confidential".into())],
            basis: vec!["Adults decide.".into()],
        }
    }

    #[test]
    fn a_figure_has_its_bar_in_its_row_and_a_symbol_has_its_word() {
        let bar = Bar { to: 700, somewhere: None, interval: None };
        let figure = Said::Figure { cells: vec!["50".into(), "70%".into()], bar };
        let html = page(&paper(vec![
            Line { name: "<Elm>".into(), said: figure },
            Line { name: "فصل".into(), said: Said::Instead(Symbol::Confidential, "left out") },
        ]));
        assert!(html.contains("<caption>Words &amp; more, by group</caption>"), "{html}");
        assert!(html.contains("<p class=\"means\">Of &lt;then&gt;.</p>"), "{html}");
        let row = "<tr><th scope=\"row\"><bdi>&lt;Elm&gt;</bdi></th><td class=\"told\">50</td><td class=\"told\">70%</td>";
        assert!(html.contains(&format!("{row}<td class=\"drawn\"><svg ")), "{html}");
        let left_out = "<tr><th scope=\"row\"><bdi>فصل</bdi></th><td class=\"told\" colspan=\"2\">c</td>\
                        <td class=\"drawn\">left out</td></tr>";
        assert!(html.contains(left_out), "{html}");
        assert_eq!(html.matches("<svg ").count(), 1);
        assert!(!html.contains("style=") && !html.contains("<script"), "its policy allows neither");
    }
}
