//! Health for whatever runs the server.

use actix_web::{HttpResponse, get, web};

use super::{Api, caller::blocking};

/// Alive: the process answers.
#[get("/health/live")]
async fn live() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("live\n")
}

/// Ready: the store answers too.
#[get("/health/ready")]
async fn ready(api: web::Data<Api>) -> HttpResponse {
    let store = api.store.clone();
    match blocking(move || Ok(store.ping()?)).await {
        Ok(()) => HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ready\n"),
        Err(_) => {
            HttpResponse::ServiceUnavailable().content_type("text/plain; charset=utf-8").body("not ready\n")
        }
    }
}

/// Routes outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config.service(live).service(ready);
}
