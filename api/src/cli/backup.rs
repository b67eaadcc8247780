//! `plumbline backup`: what devices that work offline have to be told of backups.

use clap::Subcommand;
use plumbline_core::time::Date;

use super::Failure;
use crate::{
    clock::Clock,
    config::Config,
    store::{Place, Store},
};

#[derive(Subcommand)]
pub(super) enum Command {
    /// Say that the store was restored from a backup. Run it once, before the server is started: tablets read
    /// everything anew, and send again what the backup does not have.
    Restored {
        /// Pretend it is nine on this date, as `serve --today` does.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<Date>,
    },
    /// Look into a backup that was put back beside the store, and tell tablets that they need not keep what it has.
    Verified {
        /// The copy, as `database_url` is written: sqlite:///path/to/copy.db or postgres://...
        #[arg(long, value_name = "URL")]
        copy: String,
        /// Pretend it is nine on this date, as `serve --today` does.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<Date>,
    },
}

pub(super) fn run(config: &Config, command: &Command) -> Result<(), Failure> {
    let place = config.place()?;
    let clock = |today: Option<Date>| today.map_or_else(Clock::system, Clock::starting);
    match command {
        Command::Restored { today } => {
            let many = Store::open(&place, clock(*today), 1)?.begin_epochs()?;
            println!("{}: tablets read everything anew and send what is missing.", schools(many));
        }
        Command::Verified { copy, today } => {
            let copy = Place::parse(copy).map_err(|error| error.replace("database_url", "--copy"))?;
            if copy == place {
                return Err("--copy is the store itself: put the backup back beside it".into());
            }
            if let Place::Sqlite(path) = &copy
                && !std::path::Path::new(path).is_file()
            {
                return Err(format!("--copy: there is no file {path}").into());
            }
            let has = Store::open(&copy, clock(*today), 1)
                .map_err(|error| format!("--copy: {error}"))?
                .reached()?;
            let many = Store::open(&place, clock(*today), 1)?.note_backup(has)?;
            if many == 0 {
                return Err(
                    "--copy is of none of the schools here, or of what they were before a restore".into()
                );
            }
            println!("{}: tablets need not keep what the backup has.", schools(many));
        }
    }
    Ok(())
}

fn schools(many: usize) -> String {
    if many == 1 { "1 school".into() } else { format!("{many} schools") }
}
