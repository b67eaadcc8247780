//! `plumbline openapi`: what `openapi/plumbline.v1.json` must say.

use super::Failure;

pub(super) fn run() -> Result<(), Failure> {
    println!("{}", crate::http::openapi().to_pretty_json()?);
    Ok(())
}
