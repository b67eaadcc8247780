//! A group of four, a sequence of m, oo in moon, oo in book and a "the". Worked by hand.

use uuid::Uuid;

use super::*;
use crate::{
    roster::file::headings,
    rules::{RulePack, pack},
    sequence::settle,
};

fn content() -> Content {
    let item = |g: &str, p: &str| serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}});
    let the = serde_json::json!({"kind": "exception_word", "label": "the"});
    let items = [item("m", "m"), item("oo", "uː"), item("oo", "ʊ"), the];
    let draft = serde_json::json!({"steps": [{"title": "S", "lessons": [{"title": "L", "items": items}]}]});
    let mut next = 0;
    settle(serde_json::from_value(draft).unwrap(), &crate::sequence::Known::default(), &mut || {
        next += 1;
        Uuid::from_u128(next)
    })
    .unwrap()
}

fn england() -> &'static RulePack {
    pack("england").unwrap()
}

/// Two Zoes of one birthday, of whom one is called Bo and has a reference; Max with a UPN and
/// without a birthday; Ida with a reference.
fn members() -> BTreeMap<PupilId, KnownPupil> {
    let pupil = |given: &str, born: Option<&str>| KnownPupil {
        given_name: given.into(),
        family_name: Some("Bell".into()),
        born: born.map(|day| day.parse().unwrap()),
        ..KnownPupil::default()
    };
    let called = KnownPupil {
        preferred_name: Some("Bo".into()),
        reference: Some("A2".into()),
        ..pupil("Zoe", Some("2020-05-04"))
    };
    let numbered = KnownPupil { upn: Upn::new("A123456789012").ok().or_else(upn), ..pupil("Max", None) };
    let ida = KnownPupil { reference: Some("007".into()), ..pupil("Ida", Some("2020-03-31")) };
    let all = [pupil("Zoe", Some("2020-05-04")), called, numbered, ida];
    (1..).map(|n| PupilId::from_uuid(Uuid::from_u128(n))).zip(all).collect()
}

/// A number whose check letter is right: found by trying the letters.
fn upn() -> Option<Upn> {
    ('A'..='Z').find_map(|letter| Upn::new(&format!("{letter}123456789012")).ok())
}

/// Rows as pupil's number and answers, by the place of the GPC in the sequence.
fn read(text: &str) -> Result<Vec<(u128, String)>, Vec<String>> {
    let line = |(n, text): (u64, &str)| Line {
        line: n,
        cells: text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect(),
        ..Line::default()
    };
    let sheet = Sheet { lines: (1..).zip(text.lines()).map(line).collect(), ..Sheet::default() };
    let (rules, content, members) = (england(), content(), members());
    let context = SheetContext {
        content: &content,
        members: &members,
        headings: &headings(rules, &BTreeMap::new()),
        cells: &rules.carried_cells,
        today: Date::from_ymd_opt(2027, 1, 5).unwrap(),
    };
    let items: Vec<ItemId> = content.items().map(|item| item.id).collect();
    let said = |(item, outcome): &(ItemId, Outcome)| {
        format!("{}{}", items.iter().position(|known| known == item).unwrap(), &outcome.as_str()[..1])
    };
    match read_carried(&sheet, context) {
        Ok(rows) => Ok(rows
            .iter()
            .map(|row| {
                (row.pupil.uuid().as_u128(), row.answers.iter().map(said).collect::<Vec<_>>().join(" "))
            })
            .collect()),
        Err(faults) => Err(faults.iter().map(|f| format!("{}: {}", f.field, f.message)).collect()),
    }
}

#[track_caller]
fn check(text: &str, expected: &[(u128, &str)]) {
    let expected: Vec<(u128, String)> = expected.iter().map(|(n, said)| (*n, (*said).to_owned())).collect();
    assert_eq!(read(text), Ok(expected), "{text}");
}

#[track_caller]
fn refused(text: &str, expected: &[&str]) {
    let faults = read(text).unwrap_err();
    assert_eq!(faults.len(), expected.len(), "{faults:?}");
    for (fault, expected) in faults.iter().zip(expected) {
        assert!(fault.starts_with(expected), "{fault} does not start with {expected}");
    }
}

#[test]
fn a_cell_a_gpc_in_a_few_spellings() {
    check("pupil_ref,m,oo /uː/,oo:ʊ\n007,1,0,\nA2,Yes,NR,-\n", &[(4, "0r 1w"), (2, "0r 1n 2n")]);
    check("Admission number,M,Class\n007, Right ,Alder\n", &[(4, "0r")]);
    check("pupil_ref,m,,\n007,1,,\n", &[(4, "0r")]);
    check("pupil_ref,m\n007,✗\n", &[(4, "0w")]);
    // A line may say nothing of anybody's answers.
    check("pupil_ref,m\n007,\n", &[(4, "")]);
}

#[test]
fn a_line_is_somebodys_by_number_or_by_name_and_birthday() {
    let upn = upn().unwrap();
    check(&format!("upn,m\n{},1\n", upn.as_str()), &[(3, "0r")]);
    check("forename,surname,dob,m\nida,BELL,31/03/2020,1\n", &[(4, "0r")]);
    check("first name,last name,date of birth,m\nBo,Bell,2020-05-04,1\n", &[(2, "0r")]);
    // A birthday nobody knows is no objection where a number says who.
    check(&format!("upn,forename,dob,m\n{},Max,2020-01-31,1\n", upn.as_str()), &[(3, "0r")]);
}

#[test]
fn whom_a_line_does_not_say_for_certain_is_refused_by_its_line() {
    let several = "line 2: may be about several pupils of the group";
    refused("forename,surname,dob,m\nZoe,Bell,2020-05-04,1\n", &[several]);
    let nobody = "line 2: is about nobody in the group";
    refused("forename,surname,dob,m\nIda,Bell,2020-03-30,1\n", &[nobody]);
    refused("forename,surname,dob,m\nMax,Bell,2020-03-30,1\n", &[nobody]);
    // A column sorted without the others: the reference is Ida's, the name is not.
    refused("pupil_ref,forename,m\n007,Max,1\n", &[nobody]);
    refused("pupil_ref,m\n7,1\n", &[nobody]);
    refused("pupil_ref,forename,m\n,Ida,1\n", &["line 2: does not say whose it is"]);
    refused("pupil_ref,m\n007,1\nA2,1\n007,0\n", &["line 4: means the pupil that line 2 means"]);
}

#[test]
fn faults_name_line_and_cell_and_repeat_nothing() {
    let cell = "line 3.C3: write right: 1, right,";
    refused("pupil_ref,m,oo:ʊ\n007,1,1\nA2,1,x\n", &[cell]);
    let order = "may be read day first or month first";
    refused("forename,dob,m\nIda,03/04/2020,1\n", &[&format!("line 2.B2: {order}")]);
    refused("upn,m\nA1,1\n", &["line 2.A2: a UPN is a letter and 12 digits"]);
    refused("pupil_ref,m\n1.2E+15,1,9\n", &["line 2.A2: is damaged", "line 2.C2: stands under no heading"]);
    assert!(!read("pupil_ref,m\n007,Zoe Bell\n").unwrap_err()[0].contains("Zoe"));
}

#[test]
fn a_header_is_understood_whole_or_not_at_all() {
    let several = "line 1.B1: stands for several GPCs: write oo /uː/ or oo /ʊ/";
    refused("pupil_ref,oo\n007,1\n", &[several]);
    let unknown = "line 1.B1: is neither a GPC of the group's sequence, such as m /m/, oo /uː/, oo /ʊ/, nor";
    refused("pupil_ref,the,m,m:m\n007,1\n", &[unknown, "line 1.D1: means the same as column"]);
    refused("pupil_ref,z:z\n007,1\n", &["line 1.B1: is neither"]);
    refused("forename,m\nIda,1\n", &["line 1: needs a column pupil_ref or upn"]);
    refused("pupil_ref\n007\n", &["line 1: has no column of a GPC"]);
    refused("", &["file: is empty"]);
}
