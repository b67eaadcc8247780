//! `plumbline demo`: a fictional school at work, through its own HTTP API.

mod calendar;
mod chance;
mod checks;
mod data;
#[cfg(test)]
mod edits;
mod folder;
mod plan;
mod progress;
mod report;
mod server;
mod setup;
mod side_by_side;
mod statutory;
mod teaching;
mod welcome;

use std::{
    io::Write as _,
    net::TcpListener,
    path::{Path, PathBuf},
};

use actix_web::web;
use plumbline_core::{
    text::{Email, Name},
    time::Date,
};

use crate::{
    cli::{account::found_school, serve},
    clock::{Clock, date_in},
    config::Config,
    http::Api,
    remote::{Client, Person},
    store::Store,
    telemetry,
};
use chance::Chance;
use data::Data;
use folder::{Folder, Found, Marker};
use plan::Plan;
use progress::Progress;
use server::Running;
use setup::Work;

/// Why the demonstration stopped.
type Failure = Box<dyn std::error::Error + Send + Sync>;

/// The school's time zone.
const ZONE: &str = "Europe/London";
const PORT: u16 = 8080;
const SEED: u64 = 1;

/// How to run the demonstration.
#[derive(clap::Args)]
pub struct Options {
    /// Keep the school in this folder and open it again the next time; otherwise it lives
    /// in a temporary folder and is gone at the end.
    #[arg(long, value_name = "FOLDER")]
    data: Option<PathBuf>,
    /// Port to serve on; 0 takes any free one. 8080 unless told.
    #[arg(long, value_name = "N")]
    port: Option<u16>,
    /// The school's today, as in 2026-11-25; the real day unless told.
    #[arg(long, value_name = "DATE")]
    today: Option<String>,
    /// The same seed and day give the same report. 1 unless told.
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Do all the work, print the report and end.
    #[arg(long)]
    exit: bool,
    /// Once serving, write address, accounts and ids to this file, as JSON.
    #[arg(long, value_name = "FILE")]
    ready_file: Option<PathBuf>,
}

/// Runs it.
///
/// # Errors
/// Says what stopped it.
pub fn run(options: &Options) -> Result<(), Failure> {
    telemetry::start("warn", crate::config::LogFormat::Text);
    let data = Data::read()?;
    let given = options.today.as_deref().map(day).transpose()?;
    // Without a port of the caller's own, a run that does not serve takes any.
    let listener = server::listen(options.port.unwrap_or(if options.exit { 0 } else { PORT }))?;
    let found = match &options.data {
        Some(path) => Folder::open(path, &data.school.name)?,
        None => Found::New(Folder::temporary()?),
    };
    let (folder, marker, new) = match found {
        Found::New(folder) => {
            let today = given.unwrap_or_else(|| date_in(ZONE, Clock::system().now()));
            let seed = options.seed.unwrap_or(SEED);
            (folder, Marker::new(&data.school.name, seed, today, given.is_some()), true)
        }
        Found::Made(folder, marker) => {
            let marker = reopened(marker, options.seed, given)?;
            (folder, marker, false)
        }
    };
    let demo = Demo { data, progress: Progress::start(), folder, base: address(&listener)? };
    demo.run(options, marker, new, listener)
}

/// A day the calendar's rule covers.
fn day(text: &str) -> Result<Date, Failure> {
    let day: Date =
        text.parse().map_err(|_| format!("--today {text} is not a date; write it as in 2026-11-25"))?;
    if calendar::YEARS.contains(&calendar::year_of(day)) {
        Ok(day)
    } else {
        let (from, to) = (calendar::YEARS.start(), calendar::YEARS.end());
        Err(format!("--today {text}: the demonstration knows the school years {from} to {to}").into())
    }
}

/// The marker of an earlier run, if this one fits it.
fn reopened(marker: Marker, seed: Option<u64>, today: Option<Date>) -> Result<Marker, Failure> {
    if seed.is_some_and(|seed| seed != marker.seed) {
        let made = marker.seed;
        return Err(format!("the school in this folder was made with --seed {made}; leave --seed out").into());
    }
    match today {
        Some(day) if day < marker.today => {
            let worked = marker.today;
            Err(format!("the school in this folder was at work until {worked}; --today {day} is earlier")
                .into())
        }
        Some(today) => Ok(Marker { today, fixed: true, ..marker }),
        None => Ok(marker),
    }
}

fn address(listener: &TcpListener) -> Result<String, Failure> {
    Ok(format!("http://{}", listener.local_addr()?))
}

struct Demo {
    data: Data,
    progress: Progress,
    base: String,
    /// Last, so that it goes last.
    folder: Folder,
}

impl Demo {
    fn run(
        &self,
        options: &Options,
        mut marker: Marker,
        new: bool,
        listener: TcpListener,
    ) -> Result<(), Failure> {
        let config = self.config(&listener)?;
        let clock = if marker.fixed { Clock::starting(marker.today) } else { Clock::system() };
        let place = config.place()?;
        Store::migrate(&place)?;
        let invitation = if new { Some(self.found(&config, clock)?) } else { None };
        let api: web::Data<Api> = serve::open(config, clock)?;
        let running = Running::start(api, listener)?;
        let done = self.work(options, &mut marker, invitation.as_deref());
        if done.is_err() || options.exit {
            let stopped = running.stop();
            return done.and(stopped);
        }
        running.wait()
    }

    fn config(&self, listener: &TcpListener) -> Result<Config, Failure> {
        Ok(Config {
            data_dir: self.folder.path().to_owned(),
            listen: listener.local_addr()?.to_string(),
            public_url: self.base.clone(),
            rule_pack: self.data.school.rule_pack.clone(),
            ..Config::default()
        })
    }

    /// The operator makes the school; returns the administrator's invitation.
    fn found(&self, config: &Config, clock: Clock) -> Result<String, Failure> {
        let store = Store::open(&config.place()?, clock, 1)?;
        let first = self.data.school.staff.first().ok_or("the school has no staff")?;
        let (school, name) = (Name::new(&self.data.school.name)?, Name::new(&first.name)?);
        let token = found_school(&store, config, &school, &name, Email::new(&first.email)?, ZONE)?;
        self.progress.say(&format!("The operator has made {school} and invited its administrator"));
        Ok(token)
    }

    /// Everything through the API: the half term's work where it is to be done, the report,
    /// and the way on from there.
    fn work(&self, options: &Options, marker: &mut Marker, invitation: Option<&str>) -> Result<(), Failure> {
        let (client, chance) = (Client::new(&self.base)?, Chance::new(marker.seed));
        match invitation {
            Some(token) => {
                self.half_term(&client, chance, marker, token)?;
                if !self.folder.is_temporary() {
                    self.folder.mark(marker)?;
                }
            }
            None => self.progress.say(&format!("{} is opened again", marker.school)),
        }
        let head = self.head(&client, chance)?;
        self.report(&head, marker)?;
        if !options.exit {
            if let Some(path) = &options.ready_file {
                welcome::write_ready_file(path, &self.base, &self.data, chance, &head)?;
            }
            let kept: Option<&Path> = (!self.folder.is_temporary()).then(|| self.folder.path());
            welcome::show(&self.base, &self.data, chance, kept);
        }
        Ok(())
    }

    fn half_term(
        &self,
        client: &Client,
        chance: Chance,
        marker: &mut Marker,
        token: &str,
    ) -> Result<(), Failure> {
        let plan = Plan::around(marker.today).ok_or("there is no half term before this day")?;
        let work = Work { data: &self.data, plan: &plan, chance, progress: &self.progress };
        let ready = work.set_up(client, token)?;
        ready.arrange()?;
        let diaries = ready.teach()?;
        ready.check(&diaries)?;
        ready.statutory()?;
        marker.as_of = plan.as_of;
        marker.half_term_id.clone_from(&ready.half_term_id);
        Ok(())
    }

    fn head(&self, client: &Client, chance: Chance) -> Result<Person, Failure> {
        let head = self.data.school.staff.iter().find(|member| member.key == "head");
        let head = head.ok_or("the school has no head")?;
        let signed_in = client.sign_in(&head.email, &chance.password(&head.key), None);
        Ok(signed_in.map_err(|error| format!("the head's demonstration account does not work: {error}"))?)
    }

    /// The head reads the report; it is printed.
    fn report(&self, head: &Person, marker: &Marker) -> Result<(), Failure> {
        let half_terms = welcome::half_terms(head)?;
        let half_term = half_terms.iter().find(|half_term| half_term.id == marker.half_term_id);
        let half_term = half_term.ok_or("the half term of the report is no longer in the calendar")?;
        let path = format!("/reports/attainment?half_term_id={}&as_of={}", half_term.id, marker.as_of);
        let report: report::Attainment = head.get(&path)?;
        self.progress.say("The head reads the report");
        let text = report::render(&marker.school, half_term.starts_on, half_term.ends_on, &report);
        std::io::stdout().write_all(text.as_bytes())?;
        Ok(std::io::stdout().flush()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_checked_before_anything_is_made() {
        assert!(day("2026-11-25").is_ok());
        for (text, said) in
            [("2026-13-01", "is not a date"), ("soon", "is not a date"), ("1999-01-01", "2010")]
        {
            let error = day(text).unwrap_err().to_string();
            assert!(error.contains(text) && error.contains(said), "{error}");
        }
    }

    #[test]
    fn a_school_is_opened_again_as_it_was_made() {
        let on = |text: &str| text.parse::<Date>().unwrap();
        let marker = Marker::new("Marrowby", 1, on("2026-11-25"), false);
        assert_eq!(reopened(marker.clone(), None, None).unwrap(), marker);
        assert!(reopened(marker.clone(), Some(1), None).is_ok());
        assert!(reopened(marker.clone(), Some(2), None).unwrap_err().to_string().contains("--seed 1"));
        assert!(reopened(marker.clone(), None, Some(on("2026-11-24"))).is_err());
        let later = reopened(marker, None, Some(on("2026-12-01"))).unwrap();
        assert_eq!((later.today, later.fixed), (on("2026-12-01"), true));
    }
}
