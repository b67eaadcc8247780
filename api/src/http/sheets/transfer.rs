//! The file that goes to another school, to be read by a person.

use std::fmt::Write as _;

use plumbline_core::attainment::Standing;

use super::{day, document, escaped, handover::way, name, unbroken};
use crate::http::v1::handing_on::transfer::{TransferFile, TransferredGpc};

/// The sheet.
pub fn page(file: &TransferFile) -> String {
    let mut html = head(file);
    let by = |standing: &[Standing]| {
        let of = file.correspondences.iter().filter(|gpc| standing.contains(&gpc.standing));
        of.map(named).collect::<Vec<_>>().join(", ")
    };
    let others = |taught: bool| {
        let of = file.others.iter().filter(|item| item.taught_on.is_some() == taught);
        of.map(|item| item.text.clone()).collect::<Vec<_>>().join(", ")
    };
    let lines = [
        ("Secure", by(&[Standing::Secure])),
        ("Was secure, last answer not right", by(&[Standing::Revisit])),
        ("Checked, not yet secure", by(&[Standing::NotYetSecure])),
        ("Taught, never asked", by(&[Standing::NotAsked])),
        ("Missed", by(&[Standing::Missed])),
        ("Words and other things taught", others(true)),
        ("Words and other things missed", others(false)),
    ];
    html.push_str("<h2>Correspondences</h2>\n");
    for (label, said) in lines.iter().filter(|(_, said)| !said.is_empty()) {
        let _ = writeln!(html, "<p><b>{label}:</b> {}</p>", unbroken(said));
    }
    let _ = writeln!(html, "<p>In brackets: days on which it was right, of those on which it was asked.</p>");
    let _ = writeln!(html, "<h2>To read it by</h2>\n<p>{}</p>", file.secure_means.in_words());
    for caution in &file.cautions {
        let _ = writeln!(html, "<p>{}</p>", escaped(caution));
    }
    html.push_str("</main>\n");
    document("Transfer", &html)
}

/// A pair with the days on which it was asked.
fn named(gpc: &TransferredGpc) -> String {
    let label = format!("{} /{}/", gpc.grapheme, gpc.phoneme);
    let days: Vec<bool> = gpc
        .answers
        .chunk_by(|a, b| a.on == b.on)
        .map(|day| day.iter().all(|answer| answer.outcome == plumbline_core::check::Outcome::Right))
        .collect();
    match days.len() {
        0 => label,
        asked => format!("{label} ({} of {asked})", days.iter().filter(|right| **right).count()),
    }
}

fn head(file: &TransferFile) -> String {
    let pupil = &file.pupil;
    let called =
        [Some(pupil.given_name.as_str()).filter(|given| !given.is_empty()), pupil.family_name.as_deref()];
    let called = called.into_iter().flatten().collect::<Vec<_>>().join(" ");
    let mut html = format!(
        "<main>\n<p>{} · {}</p>\n<h1>Phonics transfer: {}</h1>\n",
        escaped(&file.from_school),
        day(file.made_on),
        name(&called)
    );
    let facts = [
        ("Called", pupil.preferred_name.as_deref().map(name)),
        ("Born", pupil.date_of_birth.map(day)),
        ("Unique pupil number", pupil.upn.as_deref().map(escaped)),
        ("Last day at this school", pupil.last_day.map(day)),
        ("Last check", Some(file.last_check_on.map_or("none here".to_owned(), day))),
        ("Answers", Some(way(file.response_mode).to_owned())),
        (
            "What helped",
            file.what_helped.as_ref().map(|line| format!("{} ({})", escaped(&line.text), day(line.on))),
        ),
    ];
    for (label, said) in facts {
        if let Some(said) = said {
            let _ = writeln!(html, "<p><b>{label}:</b> {said}</p>");
        }
    }
    html
}
