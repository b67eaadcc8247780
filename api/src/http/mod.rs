//! The HTTP application: its routes, and what surrounds every one of them.

mod able;
pub mod body;
pub mod caller;
mod client;
mod computing;
mod docs;
mod health;
mod log;
mod methods;
pub mod page;
mod per_school;
pub mod problem;
pub mod problems;
pub mod query;
pub mod reply;
mod routes;
mod serving;
mod sheets;
mod sync;
mod unpack;
pub mod v1;
mod wording;
pub mod words;

use std::sync::{Arc, OnceLock};

use actix_web::App;
use plumbline_core::{attainment::Fitted, phonics::Engine};
use utoipa_actix_web::AppExt as _;

use crate::{
    auth::{password::Passwords, throttle::Throttle, token::Tokens},
    config::Config,
    housekeeping,
    proposer::Proposer,
    store::Store,
};
use per_school::PerSchool;
use problem::{Code, Problem};
use routes::routes;
pub use serving::serve;
use words::school::SchoolEngine;

/// What the operations share.
pub struct Api {
    /// The settings.
    pub config: Config,
    /// The store; handlers reach it through their caller.
    pub(in crate::http) store: Store,
    /// Access tokens.
    pub tokens: Arc<Tokens>,
    /// Password hashing.
    pub passwords: Passwords,
    /// Holding off guesses.
    pub throttle: Throttle,
    /// The same at links, so that guesses at those push out nothing known of accounts.
    pub link_throttle: Throttle,
    /// The thread that works off sequence proposals.
    pub proposer: Proposer,
    /// Streams of events that are open.
    pub streams: v1::events::Streams,
    /// Turns at computing.
    computing: computing::Computing,
    /// The phonics engine, read when first needed.
    engine: OnceLock<Arc<Engine>>,
    /// The engine as each school has it.
    pub(in crate::http) school_engines: PerSchool<SchoolEngine>,
    /// The values of the estimate as each school's answers have them.
    pub(in crate::http) estimates: PerSchool<Fitted>,
}

impl Api {
    /// Puts the parts together.
    pub fn new(
        config: Config,
        store: Store,
        tokens: Arc<Tokens>,
        passwords: Passwords,
        proposer: Proposer,
    ) -> Self {
        Self {
            config,
            store,
            tokens,
            passwords,
            throttle: Throttle::default(),
            link_throttle: Throttle::default(),
            proposer,
            streams: v1::events::Streams::default(),
            computing: computing::Computing::default(),
            engine: OnceLock::new(),
            school_engines: PerSchool::default(),
            estimates: PerSchool::default(),
        }
    }

    /// Signs the end of the audit log.
    pub fn seal(&self) {
        housekeeping::seal(&self.store, &self.tokens);
    }

    /// The phonics engine. The first call reads its data: some tens of milliseconds.
    ///
    /// # Errors
    /// `internal` if the data built in is damaged, which a test rules out.
    pub fn engine(&self) -> Result<Arc<Engine>, Problem> {
        if let Some(engine) = self.engine.get() {
            return Ok(engine.clone());
        }
        let engine = Engine::load().map_err(|error| {
            tracing::error!(%error, "the phonics engine");
            Problem::new(Code::Internal)
        })?;
        Ok(self.engine.get_or_init(|| Arc::new(engine)).clone())
    }
}

/// The OpenAPI document of this build.
pub fn openapi() -> utoipa::openapi::OpenApi {
    let (_, document) = App::new()
        .into_utoipa_app()
        .openapi(docs::description())
        .service(utoipa_actix_web::scope("/api/v1").configure(routes))
        .split_for_parts();
    docs::finish(document)
}
