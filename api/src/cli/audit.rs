//! `plumbline audit`: whether the log of who did and looked at what is still what was written.

use std::sync::Arc;

use clap::Subcommand;
use plumbline_core::{audit::Digest, id::SchoolId, text::hex, time::Date};
use uuid::Uuid;

use super::{Failure, serve::keys};
use crate::{
    clock::Clock,
    config::Config,
    store::{AuditChecked, Error, Store},
};

#[derive(Subcommand)]
pub(super) enum Command {
    /// Go through every school's log from its first entry, and name the first entry that was changed, removed,
    /// moved or cut off.
    Verify {
        /// An end as `audit head` printed it, that was noted elsewhere: the log has to hold it still.
        #[arg(long, value_name = "END")]
        noted: Vec<End>,
    },
    /// Sign and print the end of every school's log, to be noted where nobody who reaches this machine can change it.
    Head {
        /// Pretend it is nine on this date, as `serve --today` does.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<Date>,
    },
    /// Take who and whom out of the entries about a pupil or anything else, by its id. The log goes on verifying.
    Erase {
        /// The id.
        id: Uuid,
    },
}

/// An end of a school's log: `SCHOOL:ENTRY:DIGEST`.
#[derive(Clone, Copy)]
pub(super) struct End {
    school: SchoolId,
    seq: i64,
    digest: Digest,
}

impl std::fmt::Display for End {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}:{}", self.school, self.seq, hex(&self.digest))
    }
}

impl std::str::FromStr for End {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let read = || {
            let mut parts = text.trim().split(':');
            let (school, seq, hex) = (parts.next()?, parts.next()?, parts.next()?);
            if parts.next().is_some() || hex.len() != 64 || !hex.is_ascii() {
                return None;
            }
            let mut digest = Digest::default();
            for (n, byte) in digest.iter_mut().enumerate() {
                *byte = u8::from_str_radix(&hex[2 * n..2 * n + 2], 16).ok()?;
            }
            Some(Self { school: SchoolId::from_uuid(school.parse().ok()?), seq: seq.parse().ok()?, digest })
        };
        read().ok_or("is not an end as `plumbline audit head` prints it")
    }
}

pub(super) fn run(config: &Config, command: &Command) -> Result<(), Failure> {
    let open = |today: Option<Date>| {
        Store::open(&config.place()?, today.map_or_else(Clock::system, Clock::starting), 1)
            .map_err(Failure::from)
    };
    match command {
        Command::Verify { noted } => verify(config, &open(None)?, noted),
        Command::Head { today } => {
            let mut wrong = 0;
            for end in open(*today)?.seal_audit(&Arc::new(keys(config)?))? {
                match end.end {
                    Ok((seq, digest)) => {
                        println!("{}  {}", End { school: end.school, seq, digest }, end.name)
                    }
                    Err(fault) => {
                        wrong += 1;
                        eprintln!("{}: {fault}", end.name);
                    }
                }
            }
            whole(wrong)
        }
        Command::Erase { id } => {
            let store = open(None)?;
            let mut erased = 0;
            for (school, _) in store.schools()? {
                match store.erase_from_audit(school, *id) {
                    Ok(entries) => erased += entries,
                    Err(Error::Missing) => {}
                    Err(error) => return Err(error.into()),
                }
            }
            if erased == 0 {
                return Err(format!("no entry is about {id}").into());
            }
            println!("Took who and whom out of {erased} entries.");
            Ok(())
        }
    }
}

fn verify(config: &Config, store: &Store, noted: &[End]) -> Result<(), Failure> {
    let (keys, schools) = (keys(config)?, store.schools()?);
    if let Some(end) = noted.iter().find(|end| !schools.iter().any(|(school, _)| *school == end.school)) {
        return Err(format!("--noted {end}: there is no such school here").into());
    }
    let mut wrong = 0;
    for (school, name) in schools {
        let noted: Vec<_> =
            noted.iter().filter(|end| end.school == school).map(|end| (end.seq, end.digest)).collect();
        match store.check_audit(school, &noted, &keys)? {
            Ok(AuditChecked { entries, erased, months, signed }) => {
                let signed =
                    signed.map_or("nothing signed yet".into(), |seq| format!("signed up to entry {seq}"));
                println!("{name}: {entries} entries hold; {signed}, {months} months, {erased} erased.");
            }
            Err(fault) => {
                wrong += 1;
                println!("{name}: {fault}");
            }
        }
    }
    whole(wrong)
}

fn whole(wrong: usize) -> Result<(), Failure> {
    match wrong {
        0 => Ok(()),
        1 => Err("the log of 1 school is not what was written".into()),
        many => Err(format!("the logs of {many} schools are not what was written").into()),
    }
}
