//! The OpenAPI document and a browsable copy of it, from the binary alone.

use actix_web::{HttpResponse, get, http::header, web};
use utoipa::{
    OpenApi,
    openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme},
};
use utoipa_swagger_ui::Config;

use super::{
    problem::{Code, ProblemBody},
    sync::on_device::BodyByKind,
};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Plumbline",
        description = "Keep every class and group of a school on one phonics teaching sequence.\n\n\
            Sign in with `POST /api/v1/sessions` and send the access token as `Authorization: Bearer`. \
            Refusals are RFC 9457 problem details; act on `code`. Lists come in pages: send `next` back as \
            `cursor`. What can be edited carries an `ETag`; send it as `If-Match`. Creating operations take an \
            `Idempotency-Key`. Unknown fields are refused. Dates are plain dates of the school, instants are RFC 3339.\n\n\
            Results are not a diagnosis. The statutory check follows its official guidance. The school's own \
            data-protection officer decides about personal data."
    ),
    components(schemas(ProblemBody, BodyByKind)),
    security(("bearer" = []))
)]
struct Description;

/// What stands around the operations.
pub fn description() -> utoipa::openapi::OpenApi {
    Description::openapi()
}

/// Adds what the macros cannot say, once the operations are in.
pub fn finish(mut document: utoipa::openapi::OpenApi) -> utoipa::openapi::OpenApi {
    let bearer = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .bearer_format("JWT")
        .description(Some("The access token of a sign-in."))
        .build();
    let components = document.components.get_or_insert_default();
    components.security_schemes.insert("bearer".into(), SecurityScheme::Http(bearer).into());
    let table: String = Code::TABLE
        .iter()
        .map(|(code, status, title)| format!("| `{}` | {status} | {title} |\n", code.as_str()))
        .collect();
    let description = document.info.description.get_or_insert_default();
    description.push_str("\n\n| code | status | meaning |\n|---|---|---|\n");
    description.push_str(&table);
    document
}

/// The document as sent.
pub struct Document(String);

impl Document {
    /// Serialised once.
    pub fn new(document: &utoipa::openapi::OpenApi) -> Self {
        Self(document.to_json().unwrap_or_default())
    }
}

#[get("/openapi.json")]
async fn openapi_json(document: web::Data<Document>) -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(document.0.clone())
}

/// Inline styles are the viewer's own; scripts come from this server alone.
const POLICY: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
    base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

#[get("/docs/{file:.*}")]
async fn viewer(file: web::Path<String>, config: web::Data<Config<'static>>) -> HttpResponse {
    let name = if file.is_empty() { "index.html" } else { file.as_str() };
    match utoipa_swagger_ui::serve(name, config.into_inner()) {
        Ok(Some(found)) => HttpResponse::Ok()
            .content_type(found.content_type)
            .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
            .body(found.bytes.to_vec()),
        _ => HttpResponse::NotFound().finish(),
    }
}

#[get("/docs")]
async fn to_viewer() -> HttpResponse {
    HttpResponse::PermanentRedirect().insert_header((header::LOCATION, "/docs/")).finish()
}

/// Routes outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config
        .app_data(web::Data::new(Config::from("/openapi.json")))
        .service(openapi_json)
        .service(to_viewer)
        .service(viewer);
}
