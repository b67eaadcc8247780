//! Archives that are not as the standard says, and classes that the file leaves open.

use std::io::{Cursor, Write as _};

use plumbline_core::roster::file::{Cell, Sheet};
use zip::{ZipWriter, write::SimpleFileOptions};

use crate::files::{bounds::FileError, roster_file};

const USERS: &str = "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,\
    givenName,familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password";
const CLASSES: &str = "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,location,\
    schoolSourcedId,termSourcedIds,subjects,subjectCodes,periods\nc1,,,Alder,,,,homeroom,,s,,,,\n\
    c2,,,Maths,,,,scheduled,,s,,,,\nc3,,,Rowan,,,,homeroom,,s,,,,\n";
const ENROLLMENTS: &str = "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,beginDate,endDate";
const NOA: &str = "a,,,true,s,student,x,,Noa,Kerr,,,,,,,PK,";

fn zip(files: &[(&str, &str)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn read(files: &[(&str, &str)]) -> Result<Sheet, FileError> {
    roster_file::read(&zip(files), "2026-11-25".parse().unwrap())
}

fn refused(files: &[(&str, &str)]) -> String {
    read(files).unwrap_err().to_string()
}

/// A manifest of 1.1 that names these files.
fn manifest(files: &str) -> String {
    format!("propertyName,value\nmanifest.version,1.0\noneroster.version,1.1\n{files}")
}

/// Why users are refused, sent one way.
fn users_refused(mode: &str, text: &str) -> String {
    refused(&[("manifest.csv", &manifest(&format!("file.users,{mode}\n"))), ("users.csv", text)])
}

#[test]
fn the_manifest_is_needed_and_checked() {
    let users = format!("{USERS}\n{NOA}\n");
    assert_eq!(
        refused(&[("users.csv", &users)]),
        "the file cannot be read: there is no manifest.csv in the archive"
    );
    assert_eq!(
        refused(&[("out/manifest.csv", "")]),
        "the file cannot be read: its files stand in the folder out; they must stand at the archive's top"
    );
    let of = |text: &str| refused(&[("manifest.csv", text), ("users.csv", &users)]);
    assert_eq!(of(""), "manifest.csv, line 1: the header is missing");
    assert_eq!(of("name,value\n"), "manifest.csv, line 1, column A: is “name”, must be propertyName");
    assert_eq!(of("propertyName\n"), "manifest.csv, line 1, column B: is missing, must be value");
    assert_eq!(of("propertyName,value\n"), "manifest.csv: does not say manifest.version");
    let version = "propertyName,value\nmanifest.version,1.0\noneroster.version,1.0\n";
    assert_eq!(
        of(version),
        "manifest.csv, line 3, column value: oneroster.version is “1.0”; read is 1.1 or 1.2"
    );
    assert_eq!(
        of(&manifest("file.users,some\n")),
        "manifest.csv, line 4, column value: file.users must be bulk, delta or absent"
    );
    assert_eq!(
        of(&manifest("file.users,bulk\nfile.users,delta\n")),
        "manifest.csv, line 5, column value: file.users stands twice"
    );
    assert_eq!(
        of(&manifest("file.users,absent\n")),
        "manifest.csv: file.users must be bulk or delta: the file is in the archive"
    );
    assert_eq!(
        of(&manifest("file.users,bulk\nfile.classes,bulk\n")),
        "manifest.csv: file.classes names a file that is not in the archive"
    );
    let nobody = refused(&[("manifest.csv", &manifest("file.users,absent\n"))]);
    assert!(nobody.starts_with("manifest.csv: has neither users nor enrollments"), "{nobody}");
}

#[test]
fn headers_are_those_of_the_standard_in_order_and_case() {
    // Column F is the sixth, the role; its name with a capital is another.
    assert_eq!(
        users_refused("bulk", &format!("{}\n{NOA}\n", USERS.replace("role", "Role"))),
        "users.csv, line 1, column F: is “Role”, must be role"
    );
    assert_eq!(
        users_refused("bulk", &format!("{USERS},colour\n{NOA},\n")),
        "users.csv, line 1, column S: is “colour”; here only metadata. columns may stand"
    );
    assert_eq!(
        users_refused("bulk", &format!("{USERS}\n{NOA},\n")),
        "users.csv, line 2: has 19 cells where the header has 18"
    );
    let own = format!("\u{feff}{USERS},metadata.colour\r\n{NOA},red\r\n");
    let sheet = read(&[("manifest.csv", &manifest("file.users,bulk\n")), ("users.csv", &own)]).unwrap();
    assert_eq!(sheet.lines.len(), 2);
}

#[test]
fn rows_say_what_their_mode_lets_them() {
    let row = |status: &str| format!("{USERS}\n\n{}\n", NOA.replacen(",,", status, 1));
    assert_eq!(
        users_refused("bulk", &row(",tobedeleted,")),
        "users.csv, line 3, column status: must be empty in a file that is bulk"
    );
    assert_eq!(
        users_refused("delta", &row(",,")),
        "users.csv, line 3, column status: must be active or tobedeleted in a file that is delta"
    );
    assert_eq!(
        users_refused("delta", &row(",active,")),
        "users.csv, line 3, column dateLastModified: is empty in a file that is delta"
    );
    assert_eq!(
        users_refused("bulk", &format!("{USERS}\n{}\n", &NOA[1..])),
        "users.csv, line 2, column sourcedId: is empty"
    );
    assert_eq!(
        users_refused("bulk", &format!("{USERS}\n\"{NOA}\n")),
        "users.csv, line 2: a quote that opens here is never closed"
    );
}

/// The class Noa is in by enrolments, and what is said about it.
fn placed(mode: &str, enrolled: &[&str]) -> (String, Vec<String>) {
    let manifest = manifest(&format!("file.users,bulk\nfile.classes,bulk\nfile.enrollments,{mode}\n"));
    let enrolled: String = enrolled.iter().map(|row| format!("{row}\n")).collect();
    let sheet = read(&[
        ("manifest.csv", &manifest),
        ("users.csv", &format!("{USERS}\n{NOA}\n")),
        ("classes.csv", CLASSES),
        ("enrollments.csv", &format!("{ENROLLMENTS}\n{enrolled}")),
    ]);
    let line = sheet.unwrap().lines.remove(1);
    let said = line.beside.notes.into_iter().map(|note| note.message);
    (line.cells.last().map(Cell::text).unwrap_or_default(), said.collect())
}

#[test]
fn the_class_is_that_of_the_day_and_never_guessed() {
    let alder = "1,,,c1,s,a,student,,2026-09-01,2026-11-25";
    let maths = "2,,,c2,s,a,student,,,";
    // The last day counts. A class that registers comes before a set.
    assert_eq!(placed("bulk", &[alder, maths]), ("Alder".into(), vec![]));
    // Over the day before: the set is all there is.
    let over = "1,,,c1,s,a,student,,2026-09-01,2026-11-24";
    assert_eq!(placed("bulk", &[over, maths]), ("Maths".into(), vec![]));
    // Not begun yet: Rowan counts only where nothing has.
    let later = "3,,,c3,s,a,student,,2027-01-04,";
    assert_eq!(placed("bulk", &[alder, later]), ("Alder".into(), vec![]));
    assert_eq!(placed("bulk", &[over, later]), ("Rowan".into(), vec![]));
    // Two that register, one of them marked; without the mark a person says.
    let rowan = "3,,,c3,s,a,student,true,,";
    assert_eq!(placed("bulk", &[alder, rowan]), ("Rowan".into(), vec![]));
    let unmarked = "3,,,c3,s,a,student,,,";
    assert_eq!(
        placed("bulk", &[alder, unmarked]),
        (String::new(), vec!["is in several classes, say by hand in which: Alder, Rowan".into()])
    );
    // A teacher's enrolment is no pupil's.
    assert_eq!(placed("bulk", &["4,,,c3,s,a,teacher,true,,", alder]), ("Alder".into(), vec![]));
    assert_eq!(
        placed("bulk", &["5,,,c9,s,a,student,,,"]),
        (
            String::new(),
            vec!["is in class c9, which classes.csv does not name: nothing is done about it".into()]
        )
    );
}

#[test]
fn a_day_that_is_none_is_named() {
    let manifest = manifest("file.enrollments,bulk\n");
    let enrolled = format!("{ENROLLMENTS}\n1,,,c1,s,a,student,,2026-02-30,\n");
    assert_eq!(
        refused(&[("manifest.csv", &manifest), ("enrollments.csv", &enrolled)]),
        "enrollments.csv, line 2, column beginDate: must be a day such as 2026-09-01"
    );
}

#[test]
fn an_archive_is_bounded_by_what_it_holds() {
    let most = usize::try_from(crate::files::bounds::MOST_UNPACKED).unwrap();
    let bomb = format!("{USERS}\n{}", " ".repeat(most));
    let bytes = zip(&[("manifest.csv", &manifest("file.users,bulk\n")), ("users.csv", &bomb)]);
    assert!(bytes.len() < 200_000);
    let read = roster_file::read(&bytes, "2026-11-25".parse().unwrap());
    assert_eq!(read.unwrap_err(), FileError::Unpacked);
}
