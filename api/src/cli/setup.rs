//! `plumbline setup`: what the machine needs before the server runs on it.

mod certificate;

use clap::Subcommand;

use super::Failure;
use crate::config::Config;

#[derive(Subcommand)]
pub(super) enum Command {
    /// Make a certificate for a server that only the school's own devices reach, or renew it.
    Certificate(certificate::Options),
}

pub(super) fn run(config: &Config, command: &Command) -> Result<(), Failure> {
    match command {
        Command::Certificate(options) => certificate::run(config, options),
    }
}
