//! `plumbline demo`: a fictional school at work, through its own HTTP API.

/// How to run the demonstration.
#[derive(clap::Args)]
pub struct Options {}

/// Runs it.
///
/// # Errors
/// Says what stopped it.
pub fn run(_options: &Options) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    Ok(())
}
