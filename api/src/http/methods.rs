//! Methods an address does not take: 405 with those it does. HEAD is answered as GET.

use actix_web::{
    HttpRequest, HttpResponse, ResponseError as _,
    dev::ResourceDef,
    http::{Method, header},
    web,
};

use super::problem::{Code, Problem};

/// The addresses served, each with the methods it takes.
pub struct Addresses(Vec<(ResourceDef, Vec<String>)>);

/// Served, and not described as operations of the API.
const PLAIN: [&str; 9] = [
    "/",
    "/{file:style\\.css|sw\\.js|(?:lib|screens)/[a-z_]+\\.js}",
    "/cover",
    "/cover.js",
    "/docs",
    "/docs/{file}*",
    "/openapi.json",
    "/health/live",
    "/health/ready",
];

impl Addresses {
    /// Those of the API's document and the plain ones.
    pub fn new(document: &utoipa::openapi::OpenApi) -> Self {
        let document = serde_json::to_value(document).unwrap_or_default();
        let operations = document["paths"].as_object().into_iter().flatten().map(|(path, operations)| {
            let methods = operations.as_object().into_iter().flat_map(serde_json::Map::keys);
            (
                path.as_str(),
                methods.map(|method| method.to_uppercase()).filter(|name| is_method(name)).collect(),
            )
        });
        let plain = PLAIN.iter().map(|path| (*path, vec![Method::GET.to_string()]));
        Self(operations.chain(plain).map(|(path, methods)| (ResourceDef::new(path), methods)).collect())
    }

    fn methods_of(&self, path: &str) -> Option<&Vec<String>> {
        self.0.iter().find(|(address, _)| address.is_match(path)).map(|(_, methods)| methods)
    }
}

fn is_method(name: &str) -> bool {
    ["GET", "PUT", "POST", "DELETE", "PATCH"].contains(&name)
}

/// Answers what no route has taken.
pub async fn otherwise(request: HttpRequest, addresses: web::Data<Addresses>) -> HttpResponse {
    let Some(methods) = addresses.methods_of(request.path()) else {
        return Problem::new(Code::NotFound).error_response();
    };
    if methods.iter().any(|method| method == request.method().as_str()) {
        // An id in the address that is none.
        return Problem::new(Code::NotFound).error_response();
    }
    let mut response = Problem::new(Code::MethodNotAllowed).error_response();
    let mut allowed = methods.clone();
    if methods.iter().any(|method| method == "GET") {
        allowed.push(Method::HEAD.to_string());
    }
    if let Ok(value) = header::HeaderValue::from_str(&allowed.join(", ")) {
        response.headers_mut().insert(header::ALLOW, value);
    }
    response
}
