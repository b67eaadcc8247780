use super::*;
use crate::roster::Verdict;
use crate::roster::file::{Beside, Cell, Context, Line, RowAnswer, Sheet, headings, read};

fn rules() -> &'static RulePack {
    crate::rules::pack("england").unwrap()
}

/// A file with all columns; the header is line 1.
fn file(lines: &[&str]) -> Reading {
    let header = "pupil_ref,upn,given_name,family_name,preferred_name,date_of_birth,year_group,class_name";
    let line = |(n, text): (u64, &str)| Line {
        line: n,
        cells: text.split(',').map(|cell| Cell::Text(cell.to_owned())).collect(),
        ..Line::default()
    };
    let lines = (1..).zip([header].into_iter().chain(lines.iter().copied())).map(line).collect();
    let (rules, sheet) = (rules(), Sheet { lines, ..Sheet::default() });
    let headings = headings(rules, &BTreeMap::new());
    let today = "2025-03-10".parse().unwrap();
    let context = Context { rules, headings: &headings, today, year: 2024, on: &Default::default() };
    read(&sheet, &Answers::default(), context)
}

fn existing(n: u128, csv: &str) -> Existing {
    let row = file(&[csv]).rows.remove(0);
    Existing { id: pupil(n), row, left: false, once: Vec::new() }
}

fn pupil(n: u128) -> PupilId {
    PupilId::from_uuid(uuid::Uuid::from_u128(n))
}

fn absent(plan: &Plan) -> Vec<PupilId> {
    plan.absent.iter().map(|absent| absent.pupil).collect()
}

fn plan_with(lines: &[&str], pupils: &[Existing], answers: &Answers) -> Plan {
    plan(&file(lines), answers, (pupils, &Decisions::default()), &["Alder".to_owned()], rules())
}

fn plan_of(lines: &[&str], pupils: &[Existing]) -> Plan {
    plan_with(lines, pupils, &Answers::default())
}

#[test]
fn cells_are_understood_or_named() {
    let row = file(&["A1,, Zoe\u{308} ,O’Neill,,31/05/2019,Y1,Alder"]).rows.remove(0);
    assert_eq!(row.given_name.as_ref().unwrap().as_str(), "Zoë");
    assert_eq!(row.date_of_birth, "2019-05-31".parse().ok());
    assert_eq!(row.year_group.as_deref(), Some("year_1"));
    let findings = file(&["", "A1,,Zoe,Bell,,31/13/2019,Year 9,"]).rejected;
    let at: Vec<_> = findings.iter().map(|f| (f.line, f.cell.as_deref(), f.field)).collect();
    let (born, year) = (Some(Field::DateOfBirth), Some(Field::YearGroup));
    assert_eq!(at[1..], [(3, Some("F3"), born), (3, Some("G3"), year)]);
    assert_eq!(file(&["x,,,,,,,"]).rejected[0].field, Some(Field::GivenName));
    let only = file(&[",,,Sukarno,,,,"]).rows.remove(0);
    assert_eq!((only.given_name, only.family_name.unwrap().as_str()), (None, "Sukarno"));
    assert_eq!(file(&[",,Null,None,,,,"]).rows[0].shown_name(), "Null None");
}

#[test]
fn the_same_file_twice_changes_nothing() {
    let lines = ["A1,,Zoe,Bell,Zo,2019-05-31,1,Alder", ",,Max,Bell,,2019-05-31,1,alder "];
    let plan = plan_of(&lines, &[existing(1, lines[0]), existing(2, lines[1])]);
    assert_eq!((plan.created.len(), plan.updated.len(), plan.unchanged), (0, 0, 2));
    assert!(plan.new_classes.is_empty() && plan.absent.is_empty());
}

#[test]
fn twins_and_namesakes_stay_apart() {
    let plan = plan_of(
        &[
            "A1,,Ada,Bell,,2019-05-31,1,Alder",
            "A2,,Ida,Bell,,2019-05-31,1,Alder",
            "A3,,Ada,Bell,,2019-05-31,1,Rowan",
            ",,Ada,Bell,,2020-01-01,R,Rowan",
            ",K999000124301,Lily,Chen,,2019-02-03,1,Alder",
            ",Z999000124302,Lily,Chen,,2019-02-03,1,Alder",
        ],
        &[],
    );
    assert_eq!((plan.created.len(), plan.rejected.len(), plan.held.len()), (6, 0, 0));
    assert_eq!(plan.new_classes.iter().map(Name::as_str).collect::<Vec<_>>(), ["Rowan"]);
}

#[test]
fn repeats_are_named_and_contradictions_are_left_out() {
    let lines = [
        ",,Ada,Bell,,2019-05-31,1,Alder",
        ",,ada,BELL,,2019-05-31,1,Alder",
        ",,Ada,Bell,,2019-05-31,2,Alder",
    ];
    let plan = plan_of(&lines, &[]);
    assert_eq!((plan.created.len(), plan.repeats.as_slice()), (1, [Repeat { line: 3, of: 2 }].as_slice()));
    assert_eq!(plan.rejected.iter().map(|f| f.line).collect::<Vec<_>>(), [4]);
}

#[test]
fn empty_cells_never_blank_what_is_known() {
    let pupils = [existing(1, "A1,,Zoe,Bell,Zo,2019-05-31,1,Alder")];
    let plan = plan_of(&["A1,,Zoe,,,,,"], &pupils);
    assert_eq!((plan.unchanged, plan.updated.len()), (1, 0));
    let plan = plan_of(&["A1,,Zoë,Bell,,,2,Rowan"], &pupils);
    let change = &plan.updated[0];
    assert_eq!(change.fields, [Field::GivenName, Field::YearGroup, Field::ClassName]);
    assert_eq!((change.why, change.old.year_group.as_deref()), (Why::Reference, Some("year_1")));
}

#[test]
fn a_leaver_is_left_alone_and_named() {
    let left = Existing { left: true, ..existing(1, "A1,,Zoe,Bell,,2019-05-31,1,") };
    let plan = plan_of(&["A1,,Zoe,Bell,,2019-05-31,2,Alder"], &[left]);
    assert_eq!((plan.created.len(), plan.updated.len(), plan.rejected[0].line), (0, 0, 2));
}

#[test]
fn an_unclear_row_waits_for_a_person() {
    let pupils = [
        existing(1, "A1,,Zoe,Bell,,2019-05-31,1,Alder"),
        existing(2, "A2,,Zoe,Bell,,2019-05-31,1,Alder"),
        existing(3, ",,Quentin,Nodob,,,,Alder"),
    ];
    let lines =
        [",,Zoe,Bell,,2019-05-31,2,Alder", ",,Quentin,Nodob,,,,Alder", ",,Quentin,Nodob,,2019-01-01,,"];
    let plan = plan_of(&lines[..2], &pupils);
    assert_eq!((plan.created.len(), plan.unchanged), (0, 1));
    let whom: Vec<_> = plan.held[0].candidates.iter().map(|one| one.whom).collect();
    assert_eq!(whom, [pupil(1), pupil(2)]);
    let answered = |whose| {
        let answers = Answers { whose: vec![RowAnswer { line: 2, whose }], ..Answers::default() };
        plan_with(&lines[..1], &pupils, &answers)
    };
    let changed = answered(Whose::Pupil(pupil(2)));
    assert_eq!((changed.updated[0].pupil, changed.updated[0].why), (pupil(2), Why::Person));
    assert_eq!(answered(Whose::Somebody).created.len(), 1);
    assert_eq!(answered(Whose::Nobody).left_out, [2]);
    // A name with a date of birth, and a pupil of that name without one.
    let unsure = plan_of(&lines[2..], &pupils);
    assert_eq!(unsure.held[0].candidates, [Match { whom: pupil(3), why: Why::NameOnly }]);
}

#[test]
fn numbers_that_disagree_wait_for_a_person() {
    let pupils = [existing(1, "A1,K999000124301,Zoe,Bell,,2019-05-31,1,Alder")];
    let plan = plan_of(&["A1,Z999000124302,Zoe,Bell,,2019-05-31,1,Alder"], &pupils);
    assert_eq!(plan.held[0].candidates[0].why, Why::Contradiction);
    // A new reference with the same UPN is the pupil's new reference.
    let plan = plan_of(&["B7,K999000124301,Zoe,Bell,,2019-05-31,1,Alder"], &pupils);
    assert_eq!(
        (plan.updated[0].why, plan.updated[0].fields.as_slice()),
        (Why::Upn, [Field::PupilRef].as_slice())
    );
    // A file that only says more completes what is known.
    let plan = plan_of(&["A1,,Zoe,,Zo,,,"], &pupils);
    assert_eq!(plan.updated.len(), 0);
    assert_eq!(plan.completed[0].fields, [Field::PreferredName]);
}

#[test]
fn nobody_leaves_unless_their_number_is_given() {
    let pupils = [
        existing(1, "A1,,Zoe,Bell,,2019-05-31,1,Alder"),
        existing(2, "A2,,Max,Bell,,2019-05-31,1,Alder"),
        Existing { left: true, ..existing(3, "A3,,Ida,Bell,,2019-05-31,1,Alder") },
    ];
    let lines = ["A1,,Zoe,Bell,,2019-05-31,1,Alder"];
    let plan = |leavers| plan_with(&lines, &pupils, &Answers { leavers, ..Answers::default() });
    assert_eq!((absent(&plan(None)), plan(None).leavers), (vec![pupil(2)], vec![]));
    assert!(plan(Some(2)).leavers.is_empty());
    assert_eq!(plan(Some(1)).leavers, [pupil(2)]);
}

#[test]
fn a_pupil_out_of_cohort_is_said_once() {
    // Born in July 2019: five on 31 August 2024, Year 1; taught in Reception.
    let line = "A1,,Zoe,Bell,,2019-07-30,R,Alder";
    let plan = plan_of(&[line], &[]);
    assert!(plan.attention[0].message.starts_with("outside year of birth: Reception is given"));
    assert!(plan_of(&[line], &[existing(1, line)]).attention.is_empty());
}

#[test]
fn a_child_is_known_by_what_a_merged_record_was_known_by() {
    // R02 was the same child as R01: its row is that child's, and its reference no news.
    let mut kept = existing(1, "R01,,Rory,Hale,,2019-05-31,1,Alder");
    kept.once = vec![existing(2, "R02,K999000124301,Rory,Hail,,,,").row];
    let merged = |line: &str| plan_of(&[line], std::slice::from_ref(&kept));
    let plan = merged("R02,K999000124301,Rory,Hale,,2019-05-31,1,Alder");
    assert_eq!((plan.created.len(), plan.held.len(), plan.unchanged), (0, 0, 1));
    // What is said otherwise is still shown, as said of that child.
    let plan = merged("R02,,Roderick,Hale,,,,");
    assert_eq!(
        (plan.updated[0].pupil, plan.updated[0].fields.as_slice()),
        (pupil(1), &[Field::GivenName][..])
    );
    // Another number than either is another child.
    assert_eq!(merged("R03,Z999000124302,Rory,Hale,,2019-05-31,1,Alder").created.len(), 1);
}

#[test]
fn who_was_told_apart_is_not_asked_again() {
    // Rory of R01 has the same name and birthday as one without a reference.
    let pupils =
        [existing(1, "R01,,Rory,Hale,,2019-05-31,1,Alder"), existing(2, ",,Rory,Hale,,2019-05-31,1,Rowan")];
    let line = ",,Rory,Hale,,2019-05-31,1,Rowan";
    let plan_by = |pupils: &[Existing], decisions: &Decisions, answers: &Answers| {
        plan(&file(&[line]), answers, (pupils, decisions), &["Alder".to_owned()], rules())
    };
    // The first time a person says that it is somebody new; who that is not, goes with it.
    let whose = vec![RowAnswer { line: 2, whose: Whose::Somebody }];
    let new = Answers { whose, ..Answers::default() };
    let first = plan_by(&pupils[..1], &Decisions::default(), &new);
    assert_eq!((first.created.len(), first.apart), (1, vec![Apart { line: 2, pupil: pupil(1) }]));
    let asked = plan_by(&pupils, &Decisions::default(), &Answers::default());
    assert_eq!((asked.held.len(), asked.unchanged), (1, 0));
    let mut decisions = Decisions::default();
    decisions.add(Verdict::Different, pupil(1), pupil(2));
    let known = plan_by(&pupils, &decisions, &Answers::default());
    assert_eq!((known.held.len(), known.unchanged, absent(&known)), (0, 1, vec![pupil(1)]));
}

/// A reading of changes: each line with what it says beside its cells.
fn changes(lines: &[(&str, Beside)]) -> Reading {
    let texts: Vec<&str> = lines.iter().map(|(text, _)| *text).collect();
    let mut reading = file(&texts);
    reading.changes_only = true;
    for (row, (_, beside)) in reading.rows.iter_mut().zip(lines) {
        row.beside = beside.clone();
    }
    reading
}

#[test]
fn who_is_said_to_have_left_is_listed_and_leaves_by_number() {
    let left = || Beside { left: true, ..Beside::default() };
    let out_of = |class: &str| Beside { left_classes: vec![Name::new(class).unwrap()], ..Beside::default() };
    let pupils = [
        existing(1, "A1,,Zoe,Bell,,2019-05-31,1,Alder"),
        existing(2, "A2,,Max,Reed,,2019-05-30,1,Alder"),
        existing(3, "A3,,Ida,Moor,,2019-05-29,1,Rowan"),
        Existing { left: true, ..existing(4, "A4,,Leo,Kerr,,2019-05-28,1,Alder") },
        existing(5, "A5,,Noa,Lowe,,2019-05-27,1,Alder"),
    ];
    let reading = changes(&[
        ("A1,,Zoe,Bell,,,,", left()),
        ("A2,,Max,Reed,,,,", out_of("alder")),
        // A class he is not in, one who has left already, and one the school never had.
        ("A3,,Ida,Moor,,,,", out_of("Alder")),
        ("A4,,Leo,Kerr,,,,", left()),
        ("A9,,Eve,Hart,,,,", left()),
    ]);
    let with = |leavers| {
        let answers = Answers { leavers, ..Answers::default() };
        plan(&reading, &answers, (&pupils, &Decisions::default()), &["Alder".to_owned()], rules())
    };
    let shown = with(None);
    let gone: Vec<_> =
        shown.gone.iter().map(|one| (one.line, one.pupil, one.class.as_ref().map(Name::as_str))).collect();
    assert_eq!(gone, [(2, pupil(1), None), (3, pupil(2), Some("alder"))]);
    assert_eq!((shown.unchanged, shown.may_leave(), shown.created.len(), shown.absent.len()), (2, 2, 0, 0));
    assert_eq!(shown.attention.iter().map(|found| found.line).collect::<Vec<_>>(), [6]);
    assert!(shown.leavers.is_empty() && shown.class_leavers.is_empty());
    assert!(with(Some(1)).leavers.is_empty());
    let given = with(Some(2));
    assert_eq!((given.leavers, given.class_leavers.len()), (vec![pupil(1)], 1));
}

#[test]
fn a_row_that_adds_nobody_changes_only_whom_it_fits() {
    let known = Beside { known_only: true, ..Beside::default() };
    let pupils = [existing(1, "A1,,Zoe,Bell,,2019-05-31,1,Alder")];
    let reading = changes(&[("A1,,Zoe,Bell,,,,Rowan", known.clone()), ("A9,,Eve,Hart,,,,Alder", known)]);
    let shown =
        plan(&reading, &Answers::default(), (&pupils, &Decisions::default()), &["Alder".to_owned()], rules());
    assert_eq!(
        (shown.updated[0].pupil, shown.updated[0].fields.as_slice()),
        (pupil(1), [Field::ClassName].as_slice())
    );
    assert_eq!((shown.created.len(), shown.rejected[0].line), (0, 3));
    // A person may say that it is somebody new.
    let whose = vec![RowAnswer { line: 3, whose: Whose::Somebody }];
    let answers = Answers { whose, ..Answers::default() };
    assert_eq!(plan(&reading, &answers, (&pupils, &Decisions::default()), &[], rules()).created[0].line, 3);
}

#[test]
fn a_reference_of_another_system_makes_nobody_twice() {
    let pupils = [existing(1, "A1,,Zoe,Bell,,2019-05-31,1,Alder")];
    let foreign = Beside { foreign: true, ..Beside::default() };
    let plan_of = |line: &str, beside: &Beside| {
        let reading = changes(&[(line, beside.clone())]);
        plan(&reading, &Answers::default(), (&pupils, &Decisions::default()), &["Alder".to_owned()], rules())
    };
    let same = "u-1,,Zoe,Bell,,2019-05-31,1,Alder";
    let held = plan_of(same, &foreign).held;
    assert_eq!(held[0].candidates, [Match { whom: pupil(1), why: Why::Contradiction }]);
    // In a file of the school's own, another reference is another pupil; so is another birthday.
    assert_eq!(plan_of(same, &Beside::default()).created.len(), 1);
    assert_eq!(plan_of("u-1,,Zoe,Bell,,2019-05-30,1,Alder", &foreign).created.len(), 1);
}

#[test]
fn a_number_given_to_somebody_else_is_asked_about() {
    let school = [
        existing(1, "T1,,Zoe,Brock,,2019-02-03,1,Alder"),
        existing(2, "T5,,Finn,Moor,,2019-05-06,1,Alder"),
        existing(3, "T6,,Fern,Moor,,2019-05-06,1,Alder"),
        existing(4, "T7,,Sukarno,,,2019-05-07,1,Alder"),
    ];
    let held = |line: &str| {
        let plan = plan_of(&[line], &school);
        let candidates =
            plan.held.iter().flat_map(|held| held.candidates.iter().map(|one| (one.whom, one.why)));
        (plan.updated.len() + plan.completed.len(), candidates.collect::<Vec<_>>())
    };
    let contradiction = |n| (pupil(n), Why::Contradiction);
    // Another child under the reference; a sibling under it, by given name and birth.
    assert_eq!(held("T1,,Kofi,Mensah,,2019-06-11,1,Alder"), (0, vec![contradiction(1)]));
    assert_eq!(held("T1,,Kofi,Brock,,2019-06-11,1,Alder"), (0, vec![contradiction(1)]));
    assert_eq!(held("T7,,Hatta,,,,1,Alder"), (0, vec![contradiction(4)]));
    // Twins with each other's references, and no birthday to tell.
    let swapped = vec![(pupil(2), Why::NameOnly), contradiction(3)];
    assert_eq!(held("T6,,Finn,Moor,,,1,Alder"), (0, swapped));
    // The same child: married parents, a mended spelling, names in the other order, a full name.
    for line in [
        "T1,,Zoe,Moor,,2019-02-03,1,Alder",
        "T1,,Zoé,Brook,,2019-03-02,1,Alder",
        "T1,,Brock,Zoe,,2019-02-03,1,Alder",
        "T1,,Zoe Ann,Brock,,2019-02-03,1,Alder",
        "T7,,Sukarno,Putra,,2019-05-07,1,Alder",
    ] {
        assert_eq!(held(line), (1, vec![]), "{line}");
    }
    // Two children under one number in a file: the second is refused by its line.
    let twice = plan_of(&["T9,,Ida,Hart,,2019-01-31,1,Alder", "T9,,Kit,Vale,,2019-07-01,1,Alder"], &school);
    assert_eq!((twice.created.len(), twice.rejected[0].line), (1, 3));
}
