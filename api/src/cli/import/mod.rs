//! `plumbline import`: a pupil file through the API of a running server, shown before it is carried
//! out. Whoever sends it signs in like anybody, so that the same rules hold and the same log names them.

mod shown;

use std::{
    io::{BufRead as _, ErrorKind, IsTerminal as _, Write as _},
    path::{Path, PathBuf},
};

use clap::ArgGroup;
use plumbline_core::{
    id::{RosterImportId, SchoolId},
    roster::file::Answers,
    text::printable,
    time::Date,
};
use serde_json::{Map, Value, json};

use super::Failure;
use crate::{
    http::v1::roster_imports::ImportBody,
    remote::{Answer, Body, Client, Person, Refusal},
};

/// Where the password is, if not typed.
const PASSWORD: &str = "PLUMBLINE_PASSWORD";

#[derive(clap::Args)]
#[command(group(ArgGroup::new("which").required(true).args(["file", "earlier", "undo"])))]
pub(super) struct Options {
    /// The file: CSV, a workbook, a OneRoster archive or a Common Transfer File.
    file: Option<PathBuf>,
    /// In place of a file, an import shown before.
    #[arg(long, value_name = "ID")]
    earlier: Option<RosterImportId>,
    /// Take back an import that was carried out.
    #[arg(long, value_name = "ID", conflicts_with_all = ["answers", "leavers", "confirm"])]
    undo: Option<RosterImportId>,
    /// Answers to what the preview asks, as JSON: what PUT /roster-imports/{id}/answers takes.
    #[arg(long, value_name = "FILE")]
    answers: Option<PathBuf>,
    /// The pupils who are missing from the file, or said to be gone, have left: so many.
    #[arg(long, value_name = "N")]
    leavers: Option<usize>,
    /// Carry it out. A file that was not shown before must leave nothing open for that.
    #[arg(long)]
    confirm: bool,
    /// First day in the classes of the file; the server's today unless told.
    #[arg(long, value_name = "DATE", requires = "confirm")]
    from: Option<Date>,
    /// Address of the server.
    #[arg(long, value_name = "URL", env = "PLUMBLINE_SERVER", default_value = "http://127.0.0.1:8080")]
    server: String,
    /// Address of your account. Its password is asked for, or read from the first line of standard
    /// input, or from PLUMBLINE_PASSWORD.
    #[arg(long, env = "PLUMBLINE_EMAIL")]
    email: String,
    /// Id of the school, where the account works in several.
    #[arg(long, value_name = "ID")]
    school: Option<SchoolId>,
    /// Print the server's answer as it is.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(options: &Options) -> Result<(), Failure> {
    work(options).map_err(|error| {
        if options.json
            && let Some(refusal) = error.downcast_ref::<Refusal>()
            && let Err(error) = print(&format!("{}\n", refusal.text))
        {
            return error;
        }
        printable(&error.to_string()).into()
    })
}

fn work(options: &Options) -> Result<(), Failure> {
    // What is wrong here needs no password to be said.
    let file = options.file.as_deref().map(read).transpose()?;
    let told = options.answers.as_deref().map(answers).transpose()?;
    let client = Client::new(&options.server)?;
    let person = client.sign_in(&options.email, &password()?, options.school)?;
    let done = match options.undo {
        Some(id) => undo(&person, id, options),
        None => import(&person, file.as_deref(), told, options),
    };
    // One that cannot be ended now runs out by itself, and what was done is done.
    let _ = person.sign_out();
    done
}

/// Shows what a file would change, and carries it out if told to.
fn import(
    person: &Person,
    file: Option<&[u8]>,
    told: Option<Map<String, Value>>,
    options: &Options,
) -> Result<(), Failure> {
    let sent = match (file, options.earlier) {
        (Some(file), _) => person.send("POST", "/roster-imports", None, &Body::File(kind(file), file))?,
        (None, Some(id)) => person.send("GET", &format!("/roster-imports/{id}"), None, &Body::None)?,
        (None, None) => return Err("name a file".into()),
    };
    let (mut answer, mut shown) = both(sent)?;
    let path = format!("/roster-imports/{}", shown.id);
    let told = all_told(told, options.leavers, &shown.answers)?;
    let as_shown_before = file.is_none() && told.is_none();
    if let Some(told) = told {
        let body = Body::Json(&told);
        (answer, shown) = both(person.send("PUT", &format!("{path}/answers"), Some(&shown.etag), &body)?)?;
    }
    if !options.confirm {
        print(&if options.json { answer.text } else { shown::preview(&shown) + &shown::next(&shown) })?;
        return shown::open(&shown).map_or(Ok(()), |open| Err(open.into()));
    }
    if !options.json {
        print(&shown::preview(&shown))?;
    }
    // What somebody has seen may be left out; what nobody has seen may not.
    if !as_shown_before && let Some(open) = shown::open(&shown) {
        let id = shown.id;
        return Err(format!(
            "not carried out: {open}. To carry it out without that: --earlier {id} --confirm"
        )
        .into());
    }
    let body = json!({"from": options.from});
    let confirm = format!("{path}/confirm");
    // Nothing but what was just shown: refused if a colleague has answered since.
    let (answer, done) = both(person.send("POST", &confirm, Some(&shown.etag), &Body::Json(&body))?)?;
    print(&if options.json { answer.text } else { shown::done(&done) })
}

fn undo(person: &Person, id: RosterImportId, options: &Options) -> Result<(), Failure> {
    let sent = person.send("POST", &format!("/roster-imports/{id}/undo"), None, &Body::None)?;
    let (answer, undone) = both(sent)?;
    print(&if options.json { answer.text } else { shown::undone(&undone) })
}

/// An answer as it is, and what it says.
fn both(answer: Answer) -> Result<(Answer, ImportBody), Failure> {
    let said = answer.read()?;
    Ok((answer, said))
}

/// All answers at once, as the API takes them; none where nothing is told that it does not know.
fn all_told(
    told: Option<Map<String, Value>>,
    leavers: Option<usize>,
    before: &Answers,
) -> Result<Option<Value>, Failure> {
    let Some(leavers) = leavers else { return Ok(told.map(Value::Object)) };
    let mut all = told.map_or_else(|| serde_json::to_value(before), |told| Ok(Value::Object(told)))?;
    all["leavers"] = leavers.into();
    Ok(Some(all))
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    Ok(std::fs::read(path).map_err(|error| format!("{}: {error}", path.display()))?)
}

fn answers(path: &Path) -> Result<Map<String, Value>, Failure> {
    let read = serde_json::from_slice(&read(path)?);
    Ok(read.map_err(|error| format!("{}: not a JSON object: {error}", path.display()))?)
}

/// What a file is sent as; what it is, the server finds out from all of it.
fn kind(file: &[u8]) -> &'static str {
    match file {
        [b'P', b'K', ..] => "application/zip",
        [b'<', ..] => "application/xml",
        _ => "text/csv",
    }
}

/// From where no other process can read it: not from the command line.
fn password() -> Result<String, Failure> {
    if let Ok(password) = std::env::var(PASSWORD) {
        return Ok(password);
    }
    let typed = if std::io::stdin().is_terminal() {
        rpassword::prompt_password("Password: ")?
    } else {
        let mut line = String::new();
        std::io::stdin().lock().read_line(&mut line)?;
        line.trim_end_matches(['\r', '\n']).to_owned()
    };
    match typed.is_empty() {
        true => Err(format!("no password: type it, send it to standard input, or set {PASSWORD}").into()),
        false => Ok(typed),
    }
}

/// Prints all of a text. A reader such as `head` may close the pipe: that is no failure.
fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        printed => Ok(printed?),
    }
}
