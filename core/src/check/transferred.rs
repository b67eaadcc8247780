//! Answers another school's file of a pupil brings: they count as carried in, and only for the pupil the file is of.

use std::collections::{BTreeMap, BTreeSet};

use super::{CarriedAnswers, KnownPupil, Outcome};
use crate::{
    id::ItemId,
    roster::Upn,
    sequence::{Fault, Gpc},
    text::search_key,
    time::Date,
};

/// An answer of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TransferredOutcome {
    /// The day.
    pub on: Date,
    /// What came of it.
    pub outcome: Outcome,
    /// Whether it was chosen among several shown.
    pub chosen: bool,
}

/// What a file is read against.
#[derive(Clone, Copy, Debug)]
pub struct Receiving<'a> {
    /// Today at the school.
    pub today: Date,
    /// The pupil's date of birth, if it is known.
    pub born: Option<Date>,
    /// Days on which a check of this school asked the pupil a GPC: what it says needs no file.
    pub asked_here: &'a BTreeSet<(Date, ItemId)>,
}

/// The most days a file may hold answers of: five years of school days.
const MOST_DAYS: usize = 1_000;

/// What a file brings.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Transferred {
    /// Answers by day and GPC.
    pub days: BTreeMap<Date, CarriedAnswers>,
    /// Answers that were chosen among several shown: how an answer carried in was given nobody would know any more, so
    /// that they are left out.
    pub chosen: usize,
    /// Answers of days on which a check of this school asked the same: a pupil comes back with what was answered here.
    pub here: usize,
}

/// Reads the answers of a file, each pair with its own. Of several of one pair on a day one is made: right where all
/// were, else wrong where one was.
///
/// # Errors
/// Every line that cannot be, as `correspondences[3].answers[0].on`.
pub fn read_transferred(
    pairs: impl IntoIterator<Item = (Gpc, Vec<TransferredOutcome>)>,
    of: Receiving<'_>,
) -> Result<Transferred, Vec<Fault>> {
    let (mut read, mut faults) = (Transferred::default(), Vec::new());
    for (n, (pair, answers)) in pairs.into_iter().enumerate() {
        let (gpc, wrong) = pair.settled();
        faults.extend(wrong.into_iter().map(|(field, message)| Fault {
            field: format!("correspondences[{n}].{field}"),
            message: message.to_owned(),
        }));
        for (at, answer) in answers.iter().enumerate() {
            let on = answer.on;
            let mut fault = |message: String| {
                faults.push(Fault { field: format!("correspondences[{n}].answers[{at}].on"), message });
            };
            if on > of.today {
                fault(format!("{on} is in the future"));
            } else if of.born.is_some_and(|born| on <= born) {
                fault(format!("{on} is not after the pupil's date of birth"));
            }
            if answer.chosen {
                read.chosen += 1;
            } else if of.asked_here.contains(&(on, gpc.id())) {
                read.here += 1;
            } else if answer.outcome != Outcome::NotOffered {
                let day = read.days.entry(on).or_default();
                day.entry(gpc.id())
                    .and_modify(|known| *known = both(*known, answer.outcome))
                    .or_insert(answer.outcome);
            }
        }
    }
    if read.days.len() > MOST_DAYS {
        let message = format!("hold answers of {} days, and {MOST_DAYS} at most are read", read.days.len());
        faults.push(Fault { field: "correspondences".to_owned(), message });
    }
    if faults.is_empty() { Ok(read) } else { Err(faults) }
}

fn both(one: Outcome, other: Outcome) -> Outcome {
    if one == other || other == Outcome::Right {
        return one;
    }
    if one == Outcome::Right { other } else { Outcome::Wrong }
}

/// What keeps a file from being of this pupil: nothing where the file's unique pupil number is one of those the pupil
/// has or had, or where the day of birth and the first name or the one the pupil is called by agree. A family name may
/// be another by now, and twins share theirs: it says nothing.
pub fn not_of(file: &KnownPupil, known: &KnownPupil, upns: &[Upn]) -> Option<Fault> {
    let fault =
        |field: &str, message: &str| Some(Fault { field: format!("pupil.{field}"), message: message.into() });
    match (&file.upn, &known.upn) {
        (Some(one), _) if upns.contains(one) => return None,
        (Some(_), Some(_)) => return fault("upn", "is not the one of this pupil"),
        _ => {}
    }
    if file.born.is_none() || known.born != file.born {
        let message = if file.born.is_some() && known.born.is_some() {
            "is not the one of this pupil"
        } else {
            "is needed, here and in the file, where the two have no unique pupil number in common"
        };
        return fault("date_of_birth", message);
    }
    let given = |one: &KnownPupil| -> Vec<String> {
        let names = [Some(one.given_name.as_str()), one.preferred_name.as_deref()];
        names.into_iter().flatten().map(search_key).filter(|key| !key.is_empty()).collect()
    };
    let ours = given(known);
    if given(file).iter().any(|name| ours.contains(name)) {
        None
    } else {
        fault("given_name", "is not the one of this pupil")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn gpc(grapheme: &str, phoneme: &str) -> Gpc {
        Gpc { grapheme: grapheme.into(), phoneme: phoneme.into() }
    }

    fn answer(on: &str, outcome: Outcome) -> TransferredOutcome {
        TransferredOutcome { on: day(on), outcome, chosen: false }
    }

    #[test]
    fn a_day_has_one_answer_of_a_pair_and_chosen_ones_are_left_out() {
        use Outcome::{NoResponse, Right, Wrong};
        let (igh, oo) = (gpc("igh", "aɪ"), gpc("oo", "uː"));
        let chosen = TransferredOutcome { chosen: true, ..answer("2026-10-02", Right) };
        let pairs = [
            (igh.clone(), vec![answer("2026-10-01", Right), answer("2026-10-01", NoResponse), chosen]),
            (
                oo.clone(),
                vec![
                    answer("2026-10-01", NoResponse),
                    answer("2026-10-01", Wrong),
                    answer("2026-10-05", Right),
                ],
            ),
        ];
        let of = |today: &str, asked_here| {
            let of = Receiving { today: day(today), born: Some(day("2020-05-31")), asked_here };
            read_transferred(pairs.clone(), of)
        };
        let nothing = BTreeSet::new();
        let read = of("2026-11-25", &nothing).unwrap();
        let days = [
            (day("2026-10-01"), [(igh.id(), NoResponse), (oo.id(), Wrong)].into()),
            (day("2026-10-05"), [(oo.id(), Right)].into()),
        ];
        assert_eq!(read, Transferred { days: days.into(), chosen: 1, here: 0 });
        // What was asked here that day stands here.
        let here = [(day("2026-10-01"), oo.id())].into();
        let read = of("2026-11-25", &here).unwrap();
        assert_eq!((read.here, read.days[&day("2026-10-01")].contains_key(&oo.id())), (2, false));
        let faults = of("2026-10-01", &nothing).unwrap_err();
        let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
        assert_eq!(fields, ["correspondences[0].answers[2].on", "correspondences[1].answers[2].on"]);
        let refused = |pair: &Gpc, answers: Vec<TransferredOutcome>| {
            let of =
                Receiving { today: day("2026-10-01"), born: Some(day("2020-05-31")), asked_here: &nothing };
            let faults = read_transferred([(pair.clone(), answers)], of).unwrap_err();
            faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect::<Vec<_>>()
        };
        assert!(refused(&gpc("IGH", "aɪ"), Vec::new())[0].starts_with("correspondences[0].grapheme: "));
        let unborn = "correspondences[0].answers[0].on: 2020-05-31 is not after the pupil's date of birth";
        assert_eq!(refused(&igh, vec![answer("2020-05-31", Right)]), [unborn]);
        let days = (0..1_001).map(|n| TransferredOutcome {
            on: day("2022-01-01") + chrono::Duration::days(n),
            ..answer("2022-01-01", Right)
        });
        let many = "correspondences: hold answers of 1001 days, and 1000 at most are read";
        assert_eq!(refused(&igh, days.collect()), [many]);
    }

    #[test]
    fn a_file_is_of_the_pupil_with_its_number_or_its_birthday_and_a_name() {
        let of = |given: &str, family: &str, born: Option<&str>, upn: Option<&str>| KnownPupil {
            given_name: given.into(),
            family_name: Some(family.into()),
            born: born.map(day),
            upn: upn.map(|upn| crate::roster::Upn::new(upn).unwrap()),
            ..KnownPupil::default()
        };
        let fields = |file: &KnownPupil, known: &KnownPupil| -> Vec<String> {
            not_of(file, known, known.upn.as_slice()).into_iter().map(|fault| fault.field).collect()
        };
        let zoe = of("Zoë", "Bell", Some("2020-05-31"), None);
        assert!(fields(&zoe, &of("zoe", "Bell-Moor", Some("2020-05-31"), None)).is_empty());
        // A twin; and a child of whom one of the two knows no first name, which may be the other twin.
        assert_eq!(fields(&zoe, &of("Ann", "Bell", Some("2020-05-31"), None)), ["pupil.given_name"]);
        assert_eq!(fields(&zoe, &of("", "Bell", Some("2020-05-31"), None)), ["pupil.given_name"]);
        assert_eq!(fields(&of("", "Bell", Some("2020-05-31"), None), &zoe), ["pupil.given_name"]);
        assert_eq!(fields(&zoe, &of("Zoë", "Bell", Some("2020-05-13"), None)), ["pupil.date_of_birth"]);
        assert_eq!(fields(&zoe, &of("Zoë", "Bell", None, None)), ["pupil.date_of_birth"]);
        assert_eq!(fields(&zoe, &of("Ann", "Moor", Some("2020-05-31"), None)), ["pupil.given_name"]);
        let known =
            KnownPupil { preferred_name: Some("Zoe".into()), ..of("Ann", "Moor", Some("2020-05-31"), None) };
        assert!(fields(&zoe, &known).is_empty());
        // The unique pupil numbers of the facts page.
        let numbered = |upn| of("Zoë", "Bell", Some("2020-05-31"), Some(upn));
        let (one, other) = (numbered("P207000016049"), numbered("B801200005001"));
        assert!(fields(&one, &of("Ann", "Moor", None, Some("P207000016049"))).is_empty());
        assert_eq!(fields(&one, &other), ["pupil.upn"]);
        assert_eq!(not_of(&one, &other, &[one.upn.clone().unwrap()]), None, "a number it had");
    }
}
