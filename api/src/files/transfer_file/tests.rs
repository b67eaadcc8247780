//! Common Transfer Files, whole and damaged.

use super::*;

fn refused(text: &str) -> String {
    read(text.as_bytes()).unwrap_err().to_string()
}

fn pupils(text: &[u8]) -> Vec<(u64, Vec<String>)> {
    let lines = read(text).unwrap().lines;
    lines.iter().map(|line| (line.line, line.cells.iter().map(Cell::text).collect())).collect()
}

fn cells<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.map(str::to_owned).to_vec()
}

#[test]
fn the_basics_of_each_pupil_are_read_and_nothing_else() {
    let file = "\u{feff}<?xml version=\"1.0\"?><CTfile xmlns=\"urn:x\"><Header><Surname>No</Surname></Header><CTFpupilData>\
        <Pupil><UPN>B801200005001</UPN><Surname>Bell &amp; Moor</Surname><Forename>Zo&#xEB;</Forename><DOB>2020-05-31</DOB>\
        <Sex>F</Sex><Contacts><Contact><Surname>Hart</Surname></Contact></Contacts></Pupil>\
        <Pupil><Surname><![CDATA[O'Neill]]></Surname><Forename/></Pupil></CTFpupilData></CTfile>";
    let read = pupils(file.as_bytes());
    assert_eq!(read[0], (1, cells(["UPN", "Surname", "Forename", "DOB", "Sex"])));
    assert_eq!(read[1], (2, cells(["B801200005001", "Bell & Moor", "Zoë", "2020-05-31", "F"])));
    assert_eq!(read[2..], [(3, cells(["", "O'Neill", "", "", ""]))]);
    // As older systems write it.
    let office = b"<CTfile><CTFpupilData><Pupil><Forename>Zo\xeb</Forename><Gender>F</Gender></Pupil></CTFpupilData></CTfile>";
    assert_eq!(pupils(office)[0].1, cells(["UPN", "Surname", "Forename", "DOB", "Gender"]));
    assert_eq!(pupils(office)[1].1, cells(["", "", "Zoë", "", "F"]));
    let neither = b"<CTfile><CTFpupilData><Pupil><Forename>Max</Forename></Pupil></CTFpupilData></CTfile>";
    assert_eq!(pupils(neither)[1].1, cells(["", "", "Max", ""]));
}

#[test]
fn nothing_is_looked_up_and_damage_has_a_place() {
    assert_eq!(
        refused("<!DOCTYPE CTfile [<!ENTITY a \"b\">]>\n<CTfile/>"),
        "line 1, character 36: a document type, which is not read"
    );
    assert_eq!(
        refused("<CTfile>\n  <x>&a;</x></CTfile>"),
        "line 2, character 9: an entity, which is not read"
    );
    // 7 characters of <Pupil, 1 of >: whatever the depth, the place is where it was noticed.
    assert_eq!(
        refused("<CTfile>\n<CTFpupilData>\n<Pupil>"),
        "line 3, character 8: the file ends before <Pupil> is closed"
    );
    assert!(refused("<CTfile>\n</CTfil>").starts_with("line 2, character "));
    assert_eq!(
        refused("<html>"),
        "line 1, character 7: <html>: this XML is no Common Transfer File, a single <CTfile>"
    );
    assert!(refused("<CTfile/><CTfile/>").contains("a single <CTfile>"));
    assert!(refused("<CTfile/>more").ends_with("text outside every element"));
    assert_eq!(refused("<?xml version=\"1.0\"?>"), "the file is empty");
    let twice = "<CTfile><CTFpupilData><Pupil><Surname>A</Surname><Surname>B</Surname></Pupil></CTFpupilData></CTfile>";
    assert!(refused(twice).ends_with("an element that the pupil has already"));
}

#[test]
fn depth_rows_and_values_are_bounded() {
    let deep = format!("<CTfile>{}", "<a>".repeat(MOST_DEPTH));
    assert!(refused(&deep).ends_with("more than 32 elements inside one another"), "{}", refused(&deep));
    let file = |pupils: String| format!("<CTfile><CTFpupilData>{pupils}</CTFpupilData></CTfile>");
    assert_eq!(refused(&file("<Pupil/>".repeat(MOST_ROWS + 1))), FileError::TooManyRows.to_string());
    assert_eq!(read(file("<Pupil/>".repeat(MOST_ROWS)).as_bytes()).unwrap().lines.len(), MOST_ROWS + 1);
    let long = file(format!("<Pupil><Surname>{}</Surname></Pupil>", "a".repeat(MOST_CELL + 1)));
    assert!(refused(&long).ends_with("a value of more than 32768 bytes"));
}
