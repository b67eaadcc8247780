//! `plumbline serve`

use std::{net::TcpListener, sync::Arc};

use actix_web::web;
use plumbline_core::time::Date;

use super::Failure;
use crate::{
    auth::{password::Passwords, token::Tokens},
    clock::Clock,
    config::Config,
    housekeeping,
    http::{self, Api},
    proposer::Proposer,
    store::Store,
    telemetry, tls,
};

pub(super) fn run(config: Config, today: Option<Date>) -> Result<(), Failure> {
    telemetry::start(&config.log, config.log_format);
    let listener =
        TcpListener::bind(&config.listen).map_err(|error| format!("listen {}: {error}", config.listen))?;
    let address = listener.local_addr()?;
    let clock = today.map_or_else(Clock::system, Clock::starting);
    if let Some(today) = today {
        tracing::warn!(%today, "the clock is set: not for real records");
    }
    let tls = tls::of(&config)?;
    let scheme = if tls.is_some() { "https" } else { "http" };
    let api = open(config, clock)?;
    println!("Serving on {scheme}://{address}");
    let kept = api.clone();
    let served = actix_web::rt::System::new().block_on(async move { http::serve(api, listener, tls)?.await });
    kept.proposer.end();
    kept.seal();
    Ok(served?)
}

/// The server's keys.
pub(super) fn keys(config: &Config) -> Result<Tokens, Failure> {
    Ok(Tokens::open(&config.data_dir.join("keys"), config.access_token_minutes)?)
}

/// Opens everything a server needs.
pub fn open(config: Config, clock: Clock) -> Result<web::Data<Api>, Failure> {
    let store = Store::open(&config.place()?, clock, config.readers)?;
    housekeeping::once(&store);
    let tokens = Arc::new(keys(&config)?);
    housekeeping::seal(&store, &tokens);
    let passwords = Passwords::new(config.hash_queue)?;
    let proposer = Proposer::start(store.clone())?;
    Ok(web::Data::new(Api::new(config, store, tokens, passwords, proposer)))
}
