//! `plumbline import`: a pupil file from the command line, against a served binary.
#![allow(clippy::unwrap_used)]

mod encrypted;

use std::{
    io::Write as _,
    net::TcpListener,
    path::PathBuf,
    process::{Command, Output, Stdio},
};

use plumbline_tests::{Client, School, Value, binary, column, json, run, text};

const HEADER: &str = "pupil_ref,given_name,family_name,preferred_name,date_of_birth,year_group,class_name\n";
const THREE: &str = "A1,Zoë,Bell,Zo,2020-05-31,Year 1,Alder\n\
    A2,Max,O’Neill,,31/12/2019,y1,Alder\n\
    ,Sukarno,,,2020-01-02,Reception,Rowan\n";

/// A school with a calendar, its office, and files to send.
struct Office {
    school: School,
    client: Client,
}

/// How a command ended and what it said.
struct Said {
    code: i32,
    out: String,
    err: String,
}

impl From<Output> for Said {
    fn from(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).unwrap();
        Self { code: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
    }
}

impl Said {
    #[track_caller]
    fn expect(self, code: i32) -> Self {
        assert_eq!(self.code, code, "{}{}", self.out, self.err);
        assert_eq!(code == 0, self.err.is_empty(), "{}", self.err);
        self
    }

    /// Whether a line holds these cells in this order and nothing else.
    fn line(&self, cells: &[&str]) -> bool {
        let words: Vec<&str> = cells.iter().flat_map(|cell| cell.split_whitespace()).collect();
        self.out.lines().any(|line| line.split_whitespace().eq(words.iter().copied()))
    }

    /// The id after an option that the output tells to use next.
    #[track_caller]
    fn id(&self, option: &str) -> String {
        let after = self.out.split(option).nth(1).unwrap_or_else(|| panic!("{}", self.out));
        after.split_whitespace().next().unwrap().to_owned()
    }
}

impl Office {
    fn new() -> Self {
        let school = School::start();
        school.calendar();
        let client = school.staff("office");
        Self { school, client }
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path: PathBuf = self.school.server.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    }

    fn rows(&self, rows: &str) -> String {
        self.file("pupils.csv", format!("{HEADER}{rows}"))
    }

    fn import_at(&self, server: &str, password: &str, arguments: &[&str]) -> Said {
        let email = School::email("office");
        let environment =
            [("PLUMBLINE_SERVER", server), ("PLUMBLINE_EMAIL", &email), ("PLUMBLINE_PASSWORD", password)];
        run(&[&["import"], arguments].concat(), &environment).into()
    }

    fn import(&self, arguments: &[&str]) -> Said {
        self.import_at(&self.school.server.base, School::password(), arguments)
    }

    fn pupils(&self) -> Vec<String> {
        column(&self.client.get("/pupils?limit=500").expect(200)["items"], "name")
    }

    fn imports(&self) -> Value {
        self.client.get("/roster-imports").expect(200)["items"].clone()
    }
}

#[test]
fn a_file_is_shown_then_carried_out_as_shown_then_taken_back() {
    let office = Office::new();
    let file = office.rows(THREE);
    let shown = office.import(&[&file]).expect(0);
    assert!(shown.out.starts_with("Read as a text file; UTF-8; cells parted by commas; header in line 1; "));
    assert!(shown.line(&["C", "family_name", "family_name"]), "{}", shown.out);
    assert!(shown.line(&["line 3", "Alder", "year_1", "2019-12-31", "Max O’Neill"]), "{}", shown.out);
    assert!(shown.line(&["to add", "3"]) && shown.line(&["classes to add", "2"]), "{}", shown.out);
    // Kept for the fourteen days of the rule pack from nine in the morning of 25 November.
    assert!(shown.out.contains("Nothing is written. The server keeps this preview until 2026-12-09 09:0"));
    assert_eq!(office.pupils(), [""; 0]);
    assert_eq!(column(&office.imports(), "status"), ["preview"]);

    let id = shown.id("--earlier ");
    let done = office.import(&["--earlier", &id, "--confirm", "--from", "2026-09-01"]).expect(0);
    assert!(
        done.out.contains("Carried out: 3 pupils added, 0 changed, 0 left, 2 classes added."),
        "{}",
        done.out
    );
    assert_eq!(done.id("--undo "), id);
    assert_eq!(office.pupils(), ["Zo Bell", "Max O’Neill", "Sukarno"]);
    assert_eq!(column(&office.imports(), "status"), ["confirmed"]);

    let again = office.import(&[&file, "--confirm"]).expect(0);
    assert!(again.line(&["unchanged", "3"]), "{}", again.out);
    assert!(again.out.contains("Carried out: 0 pupils added, 0 changed, 0 left, 0 classes added."));
    assert_eq!(office.pupils().len(), 3);

    let undone = office.import(&["--undo", &id]).expect(0);
    assert!(undone.out.contains("is taken back: 3 pupils it added and 0 it changed, 2 classes it added"));
    assert_eq!(office.pupils(), [""; 0]);
    let twice = office.import(&["--undo", &id]).expect(1);
    assert!(twice.err.contains("the import is taken back already"), "{}", twice.err);
}

#[test]
fn the_log_names_who_signed_in_and_holds_neither_password_nor_pupil() {
    let office = Office::new();
    office.import(&[&office.rows(THREE), "--confirm"]).expect(0);
    let entries =
        office.school.staff("administrator").get("/audit-entries?limit=20").expect(200)["items"].clone();
    let office_id = office.school.staff_id("office");
    let entries = entries.as_array().unwrap().iter();
    let by_office = entries.filter(|entry| entry["staff_id"] == office_id.as_str());
    let operations: Vec<String> = by_office.map(|entry| text(&entry["operation"])).collect();
    assert_eq!(operations[..3], ["session.end", "roster_import.confirm", "roster_import.create"]);
    let log = office.school.server.log();
    assert!(!log.contains(School::password()) && !log.contains("Sukarno"), "{log}");
}

#[test]
fn leavers_leave_only_by_their_number() {
    let office = Office::new();
    office.import(&[&office.rows(THREE), "--confirm"]).expect(0);
    let one = office.rows("A1,Zoë,Bell,Zo,2020-05-31,Year 1,Alder\n");
    let untold = office.import(&[&one, "--confirm"]).expect(0);
    assert!(untold.line(&["pupils not in the file", "2"]) && untold.line(&["pupils who will leave", "0"]));
    let wrong = office.import(&[&one, "--confirm", "--leavers", "3"]).expect(1);
    assert!(wrong.err.contains("3 leavers are told, and 2 are missing"), "{}", wrong.err);
    assert_eq!(office.pupils().len(), 3);
    let right = office.import(&[&one, "--confirm", "--leavers", "2"]).expect(0);
    assert!(right.out.contains("0 changed, 2 left"), "{}", right.out);
    assert_eq!(office.pupils(), ["Zo Bell"]);
}

#[test]
fn what_is_open_stops_a_file_nobody_has_seen() {
    let office = Office::new();
    office.import(&[&office.rows("A1,Zoe,Bell,,2020-05-31,1,Alder\n"), "--confirm"]).expect(0);
    let zoe = text(&office.client.get("/pupils").expect(200)["items"][0]["id"]);
    let file = office
        .rows(",Zoe,Bell,,,1,Rowan\nA9,Ida,Hart,,31/13/2020,1,Rowan\nA3,Max,Bell,,2020-05-01,1,Alder\n");
    let stopped = office.import(&[&file, "--confirm"]).expect(1);
    assert!(
        stopped.line(&[
            "line 2 Zoe Bell may be",
            &zoe,
            "by name_only",
            "Zoe Bell, Alder, born 2020-05-31, reference A1"
        ]),
        "{}",
        stopped.out
    );
    let wrong = "“31/13/2020” is not a date; write 2019-05-31 or 31/05/2019";
    assert!(stopped.line(&["line 3", "E3", "date_of_birth", wrong]), "{}", stopped.out);
    assert!(
        stopped.err.contains("not carried out: 1 row is held; 1 row is not understood."),
        "{}",
        stopped.err
    );
    assert_eq!(office.pupils(), ["Zoe Bell"]);
    // The same without --confirm says so too, for a script.
    assert!(office.import(&[&file]).expect(1).err.contains("1 row is held; 1 row is not understood"));
    // What the preview showed as left out may be left out.
    let id = text(&office.imports()[0]["id"]);
    let done = office.import(&["--earlier", &id, "--confirm"]).expect(0);
    assert!(done.out.contains("Carried out: 1 pupil added, 0 changed"), "{}", done.out);
    assert_eq!(office.pupils(), ["Max Bell", "Zoe Bell"]);
}

#[test]
fn answers_come_from_a_file() {
    let office = Office::new();
    let file = office.file("days.csv", "given_name,date_of_birth\nZoe,05/06/2020\nMax,07/08/2020\n");
    let asked = office.import(&[&file, "--confirm"]).expect(1);
    let question = "05/06/2020 is 5 June 2020 with day_first, 6 May 2020 with month_first";
    assert!(asked.line(&["date_order", question]), "{}", asked.out);
    assert!(asked.err.contains("1 question is open"), "{}", asked.err);
    let answers = office.file("answers.json", r#"{"date_order": "month_first"}"#);
    office.import(&[&file, "--confirm", "--answers", &answers]).expect(0);
    let zoe = office.client.get("/pupils").expect(200)["items"][1].clone();
    assert_eq!(zoe["name"], "Zoe");
    let zoe = office.client.get(&format!("/pupils/{}", text(&zoe["id"]))).expect(200);
    assert_eq!(zoe["date_of_birth"], "2020-05-06");
    let unknown = office.file("answers.json", r#"{"dates": "month_first"}"#);
    assert!(office.import(&[&file, "--answers", &unknown]).expect(1).err.contains("unknown field `dates`"));
    let list = office.file("answers.json", "[]");
    assert!(office.import(&[&file, "--answers", &list]).expect(1).err.contains("not a JSON object"));
    // Read before anybody signs in: nothing was sent for it.
    assert_eq!(office.imports().as_array().unwrap().len(), 3);
}

#[test]
fn what_cannot_be_sent_or_read_is_said() {
    let office = Office::new();
    let file = office.rows(THREE);
    let base = office.school.server.base.clone();
    let wrong = office.import_at(&base, "another passphrase", &[&file]).expect(1);
    assert!(
        wrong.err.contains("401 E-mail address or password is wrong") && wrong.out.is_empty(),
        "{}",
        wrong.err
    );
    // A port that was free a moment ago.
    let nobody = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let nobody = office.import_at(&format!("http://{nobody}"), School::password(), &[&file]).expect(1);
    assert!(nobody.err.contains("onnection refused"), "{}", nobody.err);
    // A documentation address (RFC 5737): refused before anything is sent.
    let open = office.import_at("http://192.0.2.1", School::password(), &[&file]).expect(1);
    assert!(open.err.contains("only this machine is reached by http"), "{}", open.err);
    assert!(office.import(&["/nowhere/pupils.csv"]).expect(1).err.contains("/nowhere/pupils.csv: "));
    let large = office.file("large.csv", vec![b'\n'; 3 << 20]);
    let large = office.import(&[&large]).expect(1);
    assert!(large.err.contains("at most 1048576 bytes are taken here"), "{}", large.err);
    let bomb = concat!(env!("CARGO_MANIFEST_DIR"), "/cases/O35_xlsx_bomb.xlsx");
    let bomb = office.import(&[bomb]).expect(1);
    assert!(bomb.err.contains("when unpacked"), "{}", bomb.err);
    assert_eq!((office.pupils(), office.imports()), (vec![], json!([])));
}

#[test]
fn what_makes_no_sense_together_is_refused_as_usage() {
    let office = Office::new();
    let id = "0199f2c4-0000-7000-8000-000000000009";
    for arguments in [
        &[][..],
        &["pupils.csv", "--earlier", id],
        &["--undo", id, "--confirm"],
        &["pupils.csv", "--from", "2026-09-01"],
        &["--undo", "../sessions"],
    ] {
        assert_eq!(office.import(arguments).code, 2, "{arguments:?}");
    }
    let unknown = office.import(&["--undo", id]).expect(1);
    assert!(unknown.err.contains("404 There is no such resource"), "{}", unknown.err);
}

#[test]
fn the_password_may_come_by_standard_input() {
    let office = Office::new();
    let file = office.rows(THREE);
    let arguments = ["import", &file, "--server", &office.school.server.base, "--email"];
    let typed = |line: &str| -> Said {
        let mut process = Command::new(binary());
        process.args(arguments).arg(School::email("office"));
        process.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut process = process.spawn().unwrap();
        process.stdin.take().unwrap().write_all(line.as_bytes()).unwrap();
        process.wait_with_output().unwrap().into()
    };
    typed(&format!("{}\r\n", School::password())).expect(0);
    assert!(typed("").expect(1).err.contains("no password"));
}

#[test]
fn a_script_gets_the_answer_as_it_is() {
    let office = Office::new();
    let file = office.rows(THREE);
    let shown: Value = serde_json::from_str(&office.import(&[&file, "--json"]).expect(0).out).unwrap();
    let path = format!("/roster-imports/{}", text(&shown["id"]));
    assert_eq!(office.client.get(&path).expect(200), shown);
    let done = office.import(&["--earlier", &text(&shown["id"]), "--confirm", "--json"]).expect(0);
    assert_eq!(serde_json::from_str::<Value>(&done.out).unwrap(), office.client.get(&path).expect(200));
    let refused = office.import(&[&office.file("none.csv", ""), "--json"]).expect(1);
    assert_eq!(serde_json::from_str::<Value>(&refused.out).unwrap()["code"], "invalid");
}

#[test]
fn a_file_gives_the_terminal_no_commands() {
    let office = Office::new();
    let file = office.file("odd.csv", "given_name,date_of_birth,\u{1b}[2Jnote\nZoe,\u{1b}[31m2020,x\n");
    let shown = office.import(&[&file]).expect(1);
    assert!(shown.out.contains("is not a date"), "{}", shown.out);
    let mut said = shown.out.chars().chain(shown.err.chars());
    assert!(said.all(|c| c == '\n' || !c.is_control()), "{:?}", shown.out);
}

#[test]
fn who_works_in_two_schools_names_one() {
    let office = Office::new();
    let file = office.rows(THREE);
    let token = office.school.found("Millbrook School", "Ola Office", &School::email("office"));
    let acceptance = json!({"token": token, "password": School::password()});
    office.school.nobody().post("/invitations/accept", acceptance).expect(200);
    let which = office.import(&[&file]).expect(1);
    let farholt = which.err.split(" is Farholt Infant School").next().unwrap().rsplit(' ').next().unwrap();
    assert!(which.err.contains("is Millbrook School"), "{}", which.err);
    office.import(&[&file, "--school", farholt]).expect(0);
}
