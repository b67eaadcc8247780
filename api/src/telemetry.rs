//! Logging. Events carry request ids and route patterns, never names, addresses or bodies.

use std::io::IsTerminal as _;

use tracing_subscriber::{EnvFilter, fmt};

use crate::config::LogFormat;

/// Starts logging to standard error. A second call changes nothing.
pub fn start(filter: &str, format: LogFormat) {
    let filter = EnvFilter::try_new(filter).unwrap_or_else(|_| EnvFilter::new("info"));
    let builder = fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_ansi(std::io::stderr().is_terminal());
    let _ = match format {
        LogFormat::Text => builder.try_init(),
        LogFormat::Json => builder.json().try_init(),
    };
}
