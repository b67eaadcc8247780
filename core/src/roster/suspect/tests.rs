use super::*;
use crate::roster::file::Beside;
use crate::{roster::Verdict, text::Name};

fn pupil(n: usize) -> PupilId {
    PupilId::from_uuid(uuid::Uuid::from_u128(n as u128))
}

/// Reference, UPN, given, family and preferred name, date of birth; what is empty is not known.
fn pupils(lines: &[&str]) -> Vec<Existing> {
    let one = |(n, line): (usize, &&str)| {
        let cells: Vec<Option<String>> =
            line.split(',').map(|cell| Some(cell.to_owned()).filter(|cell| !cell.is_empty())).collect();
        let name = |n: usize| cells[n].as_deref().map(|text| Name::new(text).unwrap());
        let row = Row {
            line: 0,
            record: 0,
            pupil_ref: cells[0].clone(),
            upn: cells[1].as_deref().map(|text| Upn::new(text).unwrap()),
            given_name: name(2),
            family_name: name(3),
            preferred_name: name(4),
            date_of_birth: cells[5].as_deref().map(|day| day.parse().unwrap()),
            year_group: None,
            cohort: None,
            class_name: None,
            optional: Default::default(),
            beside: Beside::default(),
        };
        Existing { id: pupil(n), row, left: false, once: Vec::new() }
    };
    lines.iter().enumerate().map(one).collect()
}

fn found(lines: &[&str]) -> Vec<(usize, usize, Alike)> {
    let place = |id: PupilId| usize::try_from(id.uuid().as_u128()).unwrap();
    let list = suspects(&pupils(lines), &Decisions::default(), 100);
    list.iter().map(|one| (place(one.pupils[0]), place(one.pupils[1]), one.why)).collect()
}

#[test]
fn alike_by_name_and_not_told_apart_by_anything() {
    let all = found(&[
        "R01,,Rory,Hale,,",
        "R02,,Rory,Hale,,",
        "R03,,Olusanya,Okonkwo,Sunny,2019-02-03",
        ",,Sunny,Okonkwo,,2019-02-03",
        ",,Zoe,Bell,,2019-05-31",
        ",,Bell,Zoë,,2019-05-31",
        ",,Max,O’Neill,,2019-05-30",
        ",,max,oneill,,2019-05-30",
    ]);
    // Surest first.
    assert_eq!(
        all,
        [
            (6, 7, Alike::NameAndBirth),
            (2, 3, Alike::CalledAndBirth),
            (4, 5, Alike::TurnedAndBirth),
            (0, 1, Alike::Name)
        ]
    );
}

#[test]
fn twins_other_birthdays_and_lasting_numbers_are_no_suspicion() {
    assert_eq!(found(&[",,Ada,Hart,,2020-03-01", ",,Ida,Hart,,2020-03-01"]), []);
    assert_eq!(found(&[",,Leo,Reed,,2020-05-01", ",,Leo,Reed,,2020-05-02"]), []);
    // Called by the same name is too little without a birthday.
    assert_eq!(found(&[",,Olusanya,Okonkwo,Sunny,", ",,Sunny,Okonkwo,,"]), []);
    let lily = |one: &str, two: &str| {
        found(&[&format!("R01,{one},Lily,Chen,,2019-02-03"), &format!("R02,{two},Lily,Chen,,2019-02-03")])
    };
    assert_eq!(lily("K999000124301", "Z999000124302"), []);
    // A temporary number gives way to a lasting one of the same child.
    assert_eq!(lily("K999000124301", "M80120000500A"), [(0, 1, Alike::NameAndBirth)]);
}

#[test]
fn what_speaks_for_and_against_is_said_and_what_was_decided_is_not_asked() {
    let mut two = pupils(&["R01,,Rory,Hale,,2019-02-03", "R02,M80120000500A,Rory,Hale,,2019-02-03"]);
    two[0].left = true;
    let list = suspects(&two, &Decisions::default(), 100);
    assert_eq!(
        list[0].says,
        "the same name and date of birth; different references; a temporary UPN; one has left"
    );
    assert!(suspects(&two, &Decisions::default(), 0).is_empty());
    let mut decisions = Decisions::default();
    decisions.add(Verdict::Different, pupil(1), pupil(0));
    assert!(suspects(&two, &decisions, 100).is_empty());
}
