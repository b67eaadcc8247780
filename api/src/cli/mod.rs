//! The command line.

pub(crate) mod account;
mod audit;
mod backup;
mod import;
pub(crate) mod migrate;
mod openapi;
mod propose;
pub(crate) mod serve;
mod setup;
mod words;

use std::{path::PathBuf, process::ExitCode};

use clap::{Parser, Subcommand};

use crate::{config::Config, demo};

/// Keeps every class and group of a school on one phonics teaching sequence.
#[derive(Parser)]
#[command(name = "plumbline", version, about)]
struct Cli {
    /// Configuration file (TOML); the environment overrides it.
    #[arg(long, global = true, env = "PLUMBLINE_CONFIG", value_name = "FILE")]
    config: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Serve the API.
    Serve {
        /// Pretend the server was started at nine on this date: for trying things out.
        #[arg(long, value_name = "DATE", hide = true)]
        today: Option<plumbline_core::time::Date>,
    },
    /// Bring the store to this version.
    Migrate,
    /// Print the OpenAPI document.
    Openapi,
    /// Make a school with its first administrator; let somebody choose a new password.
    #[command(subcommand)]
    Account(account::Command),
    /// Verify the audit log, and note its end.
    #[command(subcommand)]
    Audit(audit::Command),
    /// Tell tablets of backups.
    #[command(subcommand)]
    Backup(backup::Command),
    /// Prepare the machine the server runs on.
    #[command(subcommand)]
    Setup(setup::Command),
    /// Show what a pupil file would change at a running server; carry it out with --confirm.
    Import(import::Options),
    /// Ask the phonics engine.
    #[command(subcommand)]
    Words(words::Command),
    /// Show a fictional school at work, then serve it.
    Demo(demo::Options),
}

/// Why a command did not do what it should.
type Failure = Box<dyn std::error::Error + Send + Sync>;

/// Runs the command of this process.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let done =
        match cli.command {
            Command::Demo(options) => demo::run(&options),
            Command::Openapi => openapi::run(),
            Command::Import(options) => import::run(&options),
            Command::Words(command) => words::run(command),
            other => Config::load(cli.config.as_deref(), std::env::vars()).map_err(Failure::from).and_then(
                |config| match other {
                    Command::Serve { today } => serve::run(config, today),
                    Command::Migrate => migrate::run(&config),
                    Command::Account(command) => account::run(&config, command),
                    Command::Audit(command) => audit::run(&config, &command),
                    Command::Backup(command) => backup::run(&config, &command),
                    Command::Setup(command) => setup::run(&config, &command),
                    Command::Demo(_) | Command::Openapi | Command::Import(_) | Command::Words(_) => Ok(()),
                },
            ),
        };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("plumbline: {error}");
            ExitCode::FAILURE
        }
    }
}
