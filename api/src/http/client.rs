//! The web client: files embedded in the binary, which use the public API and nothing else. Browsers ask whether they
//! have changed; the client's service worker keeps one version of them whole, named by the digest of all.

use std::{collections::BTreeMap, sync::LazyLock};

use actix_web::{
    HttpRequest, HttpResponse, get,
    http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, ETAG, EntityTag, Header as _, IfNoneMatch},
    web,
};
use plumbline_core::text::hex;
use sha2::{Digest as _, Sha256};

use super::{
    problem::{Code, Problem},
    sheets,
};

/// Every file by its path in `api/client`.
static FILES: &[(&str, &[u8])] = &include!(concat!(env!("OUT_DIR"), "/client.rs"));

const INDEX: &str = "index.html";
const WORKER: &str = "sw.js";

/// A file as it is served.
struct Served {
    bytes: Vec<u8>,
    etag: EntityTag,
    media_type: &'static str,
}

/// Every file by its address, without the slash at the beginning.
static SERVED: LazyLock<BTreeMap<&'static str, Served>> = LazyLock::new(|| {
    let address = |path: &'static str| if path == INDEX { "" } else { path };
    FILES
        .iter()
        .map(|(path, bytes)| {
            let bytes = if *path == WORKER { worker(bytes) } else { bytes.to_vec() };
            let media_type = match path.rsplit('.').next() {
                Some("js") => "text/javascript; charset=utf-8",
                Some("css") => "text/css; charset=utf-8",
                _ => sheets::MEDIA_TYPE,
            };
            // Weak: the answer may be packed on its way.
            (address(path), Served { etag: EntityTag::new_weak(digest(&[&bytes])), bytes, media_type })
        })
        .collect()
});

/// The content security policy of the client: nothing of another host, nothing written into the page. The style of
/// printed sheets comes with them.
static POLICY: LazyLock<String> = LazyLock::new(|| {
    format!(
        "default-src 'none'; script-src 'self'; style-src 'self' {}; connect-src 'self'; img-src 'self' data:; \
         worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        sheets::style_source()
    )
});

/// The service worker, after the version and the addresses of what it keeps.
fn worker(source: &[u8]) -> Vec<u8> {
    let contents: Vec<&[u8]> = FILES.iter().map(|(_, bytes)| *bytes).collect();
    let addresses: Vec<String> = FILES
        .iter()
        .filter(|(path, _)| *path != WORKER)
        .map(|(path, _)| if *path == INDEX { "/".to_owned() } else { format!("/{path}") })
        .collect();
    let head = format!(
        "const VERSION = {};\nconst FILES = {};\n",
        serde_json::json!(digest(&contents)),
        serde_json::json!(addresses)
    );
    [head.as_bytes(), source].concat()
}

/// Half of the SHA-256 of texts one after the other, each with its length, as hexadecimal digits.
fn digest(texts: &[&[u8]]) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        hash.update(text.len().to_le_bytes());
        hash.update(text);
    }
    hex(&hash.finalize()[..16])
}

#[get("/{file:|style\\.css|sw\\.js|(?:lib|screens)/[a-z_]+\\.js}")]
async fn file(request: HttpRequest, path: web::Path<String>) -> Result<HttpResponse, Problem> {
    let served = SERVED.get(path.as_str()).ok_or_else(|| Problem::new(Code::NotFound))?;
    let known = match IfNoneMatch::parse(&request) {
        Ok(IfNoneMatch::Any) => true,
        Ok(IfNoneMatch::Items(tags)) => tags.iter().any(|tag| tag.weak_eq(&served.etag)),
        Err(_) => false,
    };
    // WebKit keeps a page that was left, over TLS, unless it may not be stored; and with it, open for ever, a transaction
    // of IndexedDB that was under way, for which every other page of that tablet then waits.
    let kept = if path.is_empty() { "no-store" } else { "no-cache" };
    let mut answer = if known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    answer
        .insert_header((CACHE_CONTROL, kept))
        .insert_header((CONTENT_SECURITY_POLICY, POLICY.as_str()))
        .insert_header((ETAG, served.etag.to_string()));
    if known {
        return Ok(answer.finish());
    }
    Ok(answer.content_type(served.media_type).body(served.bytes.as_slice()))
}

/// Routes outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config.service(file);
}
