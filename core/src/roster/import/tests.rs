use super::*;

fn rules() -> RulePack {
    crate::rules::pack("england").unwrap()
}

/// ref,given,family,preferred,born,year,class
fn read(line: u64, csv: &str) -> Result<Row, Vec<Finding>> {
    let cells: BTreeMap<Field, &str> = Field::ALL.iter().copied().zip(csv.split(',')).collect();
    Row::read(line, &cells, &rules())
}

fn existing(n: u128, csv: &str) -> Existing {
    let row = read(0, csv).unwrap();
    Existing { id: PupilId::from_uuid(uuid::Uuid::from_u128(n)), row, left: false }
}

fn plan_of(lines: &[&str], pupils: &[Existing]) -> Plan {
    let rows = lines.iter().enumerate().map(|(n, csv)| read(n as u64 + 2, csv).unwrap()).collect();
    plan(rows, vec![], pupils, &["Alder".to_owned()])
}

#[test]
fn cells_are_understood_or_named() {
    let row = read(2, "A1, Zoe\u{308} ,O’Neill,,31/05/2019,Y1,Alder").unwrap();
    assert_eq!(row.given_name.as_str(), "Zoë");
    assert_eq!(row.date_of_birth, Date::from_ymd_opt(2019, 5, 31));
    assert_eq!(row.year_group.as_deref(), Some("year_1"));
    let findings = read(7, "A1,Zoe,Bell,,31/13/2019,Year 9,").unwrap_err();
    let fields: Vec<_> = findings.iter().map(|f| (f.line, f.field)).collect();
    assert_eq!(fields, [(7, Some(Field::DateOfBirth)), (7, Some(Field::YearGroup))]);
    assert_eq!(read(3, ",,,,,,").unwrap_err()[0].field, Some(Field::GivenName));
    assert_eq!(read(3, ",,Sukarno,,,,").unwrap().given_name.as_str(), "Sukarno");
    assert_eq!(read(3, ",Null,None,,,,").unwrap().given_name.as_str(), "Null");
}

#[test]
fn the_same_file_twice_changes_nothing() {
    let lines = ["A1,Zoe,Bell,Zo,2019-05-31,1,Alder", ",Max,Bell,,2019-05-31,1,alder "];
    let pupils = [existing(1, lines[0]), existing(2, lines[1])];
    let plan = plan_of(&lines, &pupils);
    assert_eq!(
        (plan.created.len(), plan.updated.len(), plan.unchanged, plan.new_classes.len()),
        (0, 0, 2, 0)
    );
}

#[test]
fn twins_and_namesakes_stay_apart() {
    let plan = plan_of(
        &[
            "A1,Ada,Bell,,2019-05-31,1,Alder",
            "A2,Ida,Bell,,2019-05-31,1,Alder",
            "A3,Ada,Bell,,2019-05-31,1,Rowan",
            ",Ada,Bell,,2020-01-01,R,Rowan",
        ],
        &[],
    );
    assert_eq!((plan.created.len(), plan.rejected.len()), (4, 0));
    assert_eq!(plan.new_classes.iter().map(Name::as_str).collect::<Vec<_>>(), ["Rowan"]);
}

#[test]
fn repeats_are_left_out_and_named() {
    let plan = plan_of(&[",Ada,Bell,,2019-05-31,1,Alder", ",ada,BELL,,2019-05-31,1,Alder"], &[]);
    assert_eq!(plan.created.len(), 1);
    assert_eq!(plan.rejected[0].line, 3);
}

#[test]
fn empty_cells_never_blank_what_is_known() {
    let pupils = [existing(1, "A1,Zoe,Bell,Zo,2019-05-31,1,Alder")];
    let plan = plan_of(&["A1,Zoe,,,,,"], &pupils);
    assert_eq!((plan.unchanged, plan.updated.len()), (1, 0));
    let plan = plan_of(&["A1,Zoë,Bell,,,2,Rowan"], &pupils);
    assert_eq!(plan.updated[0].fields, [Field::GivenName, Field::YearGroup, Field::ClassName]);
}

#[test]
fn a_leaver_is_left_alone_and_named() {
    let left = Existing { left: true, ..existing(1, "A1,Zoe,Bell,,2019-05-31,1,") };
    let plan = plan_of(&["A1,Zoe,Bell,,2019-05-31,2,Alder"], &[left]);
    assert_eq!((plan.created.len(), plan.updated.len(), plan.rejected[0].line), (0, 0, 2));
}

#[test]
fn an_unclear_match_is_held_for_a_person() {
    let pupils =
        [existing(1, "A1,Zoe,Bell,,2019-05-31,1,Alder"), existing(2, "A2,Zoe,Bell,,2019-05-31,1,Alder")];
    let plan = plan_of(&[",Zoe,Bell,,2019-05-31,1,Alder"], &pupils);
    assert_eq!((plan.created.len(), plan.rejected[0].field), (0, Some(Field::PupilRef)));
}

#[test]
fn a_bare_name_is_matched_by_name_or_held() {
    let pupils = [existing(1, ",Quentin,Nodob,,,,Alder"), existing(2, "A2,Zoe,Bell,,2019-05-31,1,Alder")];
    let plan = plan_of(&[",Quentin,Nodob,,,,Alder", ",Zoe,Bell,,,,Alder", ",Max,Hart,,,,Alder"], &pupils);
    assert_eq!((plan.unchanged, plan.created.len()), (1, 1));
    assert_eq!(plan.rejected.iter().map(|f| f.line).collect::<Vec<_>>(), [3]);
}
