//! What someone needs to go on from here: address, accounts, ids.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{Failure, chance::Chance, data::Data, folder::write_whole};
use crate::remote::{Page, Person};

/// A demonstration account.
#[derive(Serialize)]
pub(super) struct Account {
    role: String,
    name: String,
    email: String,
    password: String,
}

#[derive(Serialize, Deserialize)]
struct Group {
    id: String,
    name: String,
}

#[derive(Deserialize)]
struct Year {
    half_terms: Vec<HalfTerm>,
}

/// A half term of the school's calendar.
#[derive(Serialize, Deserialize)]
pub(super) struct HalfTerm {
    pub(super) id: String,
    name: String,
    pub(super) starts_on: plumbline_core::time::Date,
    pub(super) ends_on: plumbline_core::time::Date,
}

/// What a program needs that goes on from here.
#[derive(Serialize)]
struct Welcome<'a> {
    base_url: &'a str,
    school: &'a str,
    accounts: Vec<Account>,
    groups: Vec<Group>,
    half_terms: Vec<HalfTerm>,
}

/// The accounts; their passwords follow from the seed.
fn accounts(data: &Data, chance: Chance) -> Vec<Account> {
    let staff = data.school.staff.iter();
    staff
        .map(|member| Account {
            role: member.roles.first().cloned().unwrap_or_default(),
            name: member.name.clone(),
            email: member.email.clone(),
            password: chance.password(&member.key),
        })
        .collect()
}

/// The half terms, as the server has them.
pub(super) fn half_terms(reader: &Person) -> Result<Vec<HalfTerm>, Failure> {
    let years: Page<Year> = reader.get("/school-years")?;
    Ok(years.items.into_iter().flat_map(|year| year.half_terms).collect())
}

/// Writes the file for programs.
pub(super) fn write_ready_file(
    path: &Path,
    base: &str,
    data: &Data,
    chance: Chance,
    reader: &Person,
) -> Result<(), Failure> {
    let groups: Page<Group> = reader.get("/groups")?;
    let welcome = Welcome {
        base_url: base,
        school: &data.school.name,
        accounts: accounts(data, chance),
        groups: groups.items,
        half_terms: half_terms(reader)?,
    };
    write_whole(path, &serde_json::to_string_pretty(&welcome)?)
}

/// Prints the address and the accounts.
pub(super) fn show(base: &str, data: &Data, chance: Chance, kept: Option<&Path>) {
    let accounts = accounts(data, chance);
    let width = |of: fn(&Account) -> &str| {
        accounts.iter().map(|account| of(account).chars().count()).max().unwrap_or_default()
    };
    let (names, emails) = (width(|account| &account.name), width(|account| &account.email));
    eprintln!("\nServing {} on {base} (the API is described at {base}/docs)", data.school.name);
    eprintln!(
        "\nDemonstration accounts. Everyone who runs this knows these passwords: never for real pupils.\n"
    );
    for Account { role, name, email, password } in &accounts {
        eprintln!("  {role:<14} {name:<names$}  {email:<emails$}  {password}");
    }
    match kept {
        Some(path) => eprintln!("\nKept in {}. Stop with Ctrl-C.", path.display()),
        None => eprintln!("\nStop with Ctrl-C; the school is then gone. To keep it, give --data FOLDER."),
    }
}
