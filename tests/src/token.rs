//! Access tokens bent by hand, signed with the server's own key.

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use jsonwebtoken::{Algorithm, EncodingKey, crypto::sign};
use serde_json::Value;

use crate::Server;

/// An access token taken apart, to be changed and signed again.
#[derive(Clone)]
pub struct Forge {
    header: Value,
    claims: Value,
    pem: Vec<u8>,
}

impl Forge {
    /// Takes a good token of this server apart.
    pub fn of(server: &Server, token: &str) -> Self {
        let part = |n: usize| {
            let part = token.split('.').nth(n).unwrap();
            serde_json::from_slice(&URL_SAFE_NO_PAD.decode(part).unwrap()).unwrap()
        };
        let pem = std::fs::read(server.folder.path().join("keys/0001.pem")).unwrap();
        Self { header: part(0), claims: part(1), pem }
    }

    /// The same with another header field; null takes it out.
    #[must_use]
    pub fn header(mut self, name: &str, value: impl Into<Value>) -> Self {
        set(&mut self.header, name, value.into());
        self
    }

    /// The same with another claim; null takes it out.
    #[must_use]
    pub fn claim(mut self, name: &str, value: impl Into<Value>) -> Self {
        set(&mut self.claims, name, value.into());
        self
    }

    /// The same, issued so many seconds later, with the same time to live.
    #[must_use]
    pub fn shifted(mut self, seconds: i64) -> Self {
        for name in ["iat", "exp"] {
            self.claims[name] = (self.claims[name].as_i64().unwrap() + seconds).into();
        }
        self
    }

    /// A claim.
    pub fn get(&self, name: &str) -> &Value {
        &self.claims[name]
    }

    /// All claims.
    pub const fn all(&self) -> &Value {
        &self.claims
    }

    /// The same with these claims instead.
    #[must_use]
    pub fn claims(mut self, claims: Value) -> Self {
        self.claims = claims;
        self
    }

    /// Signed with the server's key.
    pub fn signed(&self) -> String {
        self.signed_with(&EncodingKey::from_ed_pem(&self.pem).unwrap(), Algorithm::EdDSA)
    }

    /// Signed by HMAC with the server's public key as the secret, as one can who only knows that.
    pub fn signed_with_the_public_key(&self) -> String {
        use base64::engine::general_purpose::STANDARD;
        let text = String::from_utf8(self.pem.clone()).unwrap();
        let body: String = text.lines().filter(|line| !line.starts_with('-')).collect();
        let der = STANDARD.decode(body).unwrap();
        // The document ends with the public key.
        let public = &der[der.len() - 32..];
        self.signed_with(&EncodingKey::from_secret(public), Algorithm::HS256)
    }

    /// Not signed at all.
    pub fn unsigned(&self) -> String {
        format!("{}.", self.message())
    }

    fn message(&self) -> String {
        let pack = |json: &Value| URL_SAFE_NO_PAD.encode(json.to_string());
        format!("{}.{}", pack(&self.header), pack(&self.claims))
    }

    fn signed_with(&self, key: &EncodingKey, algorithm: Algorithm) -> String {
        let message = self.message();
        let signature = sign(message.as_bytes(), key, algorithm).unwrap();
        format!("{message}.{signature}")
    }
}

fn set(object: &mut Value, name: &str, value: Value) {
    let object = object.as_object_mut().unwrap();
    if value.is_null() {
        object.remove(name);
    } else {
        object.insert(name.to_owned(), value);
    }
}
