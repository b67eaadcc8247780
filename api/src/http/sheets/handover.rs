//! A handover on paper: a page a pupil, so that each goes to whoever teaches that pupil next.

use std::fmt::Write as _;

use plumbline_core::{attainment::Standing, check::ResponseMode};

use super::{day, document, escaped, name, numbered, unbroken};
use crate::http::v1::handing_on::{HandedItem, Handover, PupilHandover};

/// The pages.
pub fn page(handover: &Handover) -> String {
    let mut html = String::from("<main>\n");
    if handover.pupils.is_empty() {
        html.push_str("<p>No pupil to hand on.</p>\n");
    }
    for (n, pupil) in handover.pupils.iter().enumerate() {
        html.push_str("<section class=\"page\">\n");
        html.push_str(&head(handover, pupil));
        html.push_str(&checked(handover, pupil));
        html.push_str(&answering(pupil));
        html.push_str(&items(pupil));
        let _ = writeln!(html, "<h2>To read it by</h2>\n<p>{}</p>", handover.secure_means.in_words());
        for caution in handover.cautions.iter().chain([&handover.estimate.caution]) {
            let _ = writeln!(html, "<p>{}</p>", escaped(caution));
        }
        let foot = "About one child: hand it over, and leave it nowhere.";
        html.push_str(&numbered(n + 1, handover.pupils.len(), foot));
        html.push_str("</section>\n");
    }
    html.push_str("</main>\n");
    document("Handover", &html)
}

fn head(handover: &Handover, pupil: &PupilHandover) -> String {
    let apart = pupil.apart.as_ref().map(|apart| format!(" ({})", escaped(apart))).unwrap_or_default();
    let class = pupil.class.as_ref().map(|class| format!("<p>Class {}</p>\n", name(class)));
    format!(
        "<p>{} · {}</p>\n<h1>Handover: {}{apart}</h1>\n{}",
        escaped(&handover.school),
        day(handover.on),
        name(&pupil.name),
        class.unwrap_or_default()
    )
}

/// How old the last check is, and what follows.
fn checked(handover: &Handover, pupil: &PupilHandover) -> String {
    let mut said = match (pupil.last_check_on, pupil.days) {
        (Some(on), Some(0)) => format!("{}, today.", day(on)),
        (Some(on), Some(1)) => format!("{}, yesterday.", day(on)),
        (Some(on), Some(days)) => format!("{}, {days} days ago.", day(on)),
        _ => "none here yet.".to_owned(),
    };
    if pupil.re_check {
        if pupil.last_check_on.is_some() {
            said.push_str(" Nothing was asked since the holiday.");
        }
        let _ = write!(said, " Ask again first: it takes {} minutes.", handover.re_check_minutes);
    }
    format!("<p><b>Last check:</b> {said}</p>\n")
}

/// How a pupil usually answers, in words.
pub fn way(mode: ResponseMode) -> &'static str {
    match mode {
        ResponseMode::Spoken => "aloud",
        ResponseMode::Choosing => "by choosing among several shown",
        ResponseMode::CommunicationAid => "by a communication aid",
        ResponseMode::Sign => "by signing",
        ResponseMode::EyeGaze => "by looking at one of several shown",
        ResponseMode::Written => "in writing",
    }
}

fn answering(pupil: &PupilHandover) -> String {
    let mut html = format!("<p><b>Answers</b> {}.</p>\n", way(pupil.mode));
    let usual: Vec<String> = pupil
        .speech
        .iter()
        .flatten()
        .map(|one| match &one.said {
            Some(said) => format!("/{}/ as /{said}/", one.sound),
            None => format!("/{}/ left out", one.sound),
        })
        .collect();
    if !usual.is_empty() {
        let _ = writeln!(html, "<p><b>Usually says</b> {}: no error.</p>", escaped(&usual.join(", ")));
    }
    if let Some(line) = &pupil.what_helped {
        let _ = writeln!(html, "<p><b>What helped:</b> {} ({})</p>", escaped(&line.text), day(line.on));
    }
    html
}

fn items(pupil: &PupilHandover) -> String {
    let mut html = String::from("<h2>Correspondences</h2>\n");
    let _ = writeln!(html, "<p>{} taught, {} of them secure.</p>", pupil.taught, secure_and_taught(pupil));
    let list = |items: &mut dyn Iterator<Item = &HandedItem>| {
        items.map(|item| item.label.clone()).collect::<Vec<_>>().join(", ")
    };
    let gaps = |standing: Standing| {
        let of = pupil.gaps.iter().filter(|item| item.standing == standing);
        of.map(|item| match item.estimated_percent {
            Some(percent) => format!("{} ({percent} %)", item.label),
            None => item.label.clone(),
        })
        .collect::<Vec<_>>()
        .join(", ")
    };
    let open = pupil.open.iter().map(|one| format!("{} ({})", one.label, day(one.missed_on)));
    let lines = [
        ("Secure", list(&mut pupil.secure.iter())),
        ("Gap: was secure, last answer not right", gaps(Standing::Revisit)),
        ("Gap: missed", gaps(Standing::Missed)),
        ("Gap: not yet secure", gaps(Standing::NotYetSecure)),
        ("Right so far, not yet often enough", list(&mut pupil.right_so_far.iter())),
        ("Taught, never asked", list(&mut pupil.not_asked.iter())),
        ("Also taught", pupil.others.iter().map(|item| item.label.clone()).collect::<Vec<_>>().join(", ")),
        ("Missed and still open, since", open.collect::<Vec<_>>().join(", ")),
    ];
    for (label, said) in lines.iter().filter(|(_, said)| !said.is_empty()) {
        let _ = writeln!(html, "<p><b>{label}:</b> {}</p>", unbroken(said));
    }
    if pupil.gaps.iter().any(|item| item.estimated_percent.is_some()) {
        html.push_str("<p>In brackets behind a gap: the estimate of how likely it is known.</p>\n");
    }
    html
}

/// What is secure by checks alone, and was never taught here, is none of what was taught.
fn secure_and_taught(pupil: &PupilHandover) -> usize {
    pupil.secure.iter().filter(|item| item.taught_on.is_some()).count()
}
