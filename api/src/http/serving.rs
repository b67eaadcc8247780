//! The application with all that surrounds it, on a listener.

use actix_web::{
    App, HttpServer,
    dev::Server,
    middleware::{Compress, DefaultHeaders, from_fn},
    web,
};
use rustls::ServerConfig;
use utoipa_actix_web::AppExt as _;

use super::{
    Api, client, docs, health, log, methods, openapi,
    problem::{Code, Problem},
    routes, sheets,
};
use crate::{housekeeping, stopping};

/// Headers of every answer.
const EVERYWHERE: [(&str, &str); 4] = [
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("X-Frame-Options", "DENY"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
];

/// Says that browsers come by TLS only from now on; said where they come by it.
const TLS_FROM_NOW_ON: (&str, &str) = ("Strict-Transport-Security", "max-age=31536000");

/// Serves on a listener until stopped, by TLS where told how.
///
/// # Errors
/// If the listener cannot be used.
pub fn serve(
    api: web::Data<Api>,
    listener: std::net::TcpListener,
    tls: Option<ServerConfig>,
) -> std::io::Result<Server> {
    let told = api.clone();
    stopping::when_told(move || {
        told.proposer.stop();
        // Streams would keep the server from ending.
        told.store.follow_no_more();
    });
    housekeeping::keep(&api.store, &api.tokens);
    let workers = api.config.workers;
    let tls_only = api.config.has_secure_address().then_some(TLS_FROM_NOW_ON);
    let described = openapi();
    let addresses = web::Data::new(methods::Addresses::new(&described));
    let document = web::Data::new(docs::Document::new(&described));
    let server = HttpServer::new(move || {
        let headers = EVERYWHERE
            .iter()
            .chain(&tls_only)
            .fold(DefaultHeaders::new(), |headers, header| headers.add(*header));
        let (app, _) = App::new()
            .into_utoipa_app()
            .openapi(docs::description())
            .service(utoipa_actix_web::scope("/api/v1").configure(routes))
            .split_for_parts();
        app.app_data(api.clone())
            .app_data(document.clone())
            .app_data(addresses.clone())
            .app_data(web::PathConfig::default().error_handler(|_, _| Problem::new(Code::NotFound).into()))
            .configure(health::routes)
            .configure(docs::routes)
            .configure(sheets::routes)
            .configure(client::routes)
            .default_service(web::to(methods::otherwise))
            .wrap(from_fn(log::requests))
            .wrap(headers)
            .wrap(Compress::default())
    });
    let server = server
        .workers(workers)
        // A handler waits for the store on a thread of this pool, at most this many a worker.
        .worker_max_blocking_threads(32)
        .client_request_timeout(std::time::Duration::from_secs(10))
        .shutdown_timeout(20);
    let bound = match tls {
        Some(tls) => server.listen_rustls_0_23(listener, tls)?,
        None => server.listen(listener)?,
    };
    Ok(bound.run())
}
