//! Files by which a school's server vouches for what it shows a trust: signed with the key that signs its tokens
//! (JWS, RFC 7515, with Ed25519, RFC 8037). They are of a type of their own, so that neither passes for the other
//! (RFC 8725, 3.11). Whoever takes one has to have been told the key.

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use jsonwebtoken::{Algorithm, DecodingKey, Header, Validation, decode, decode_header, encode};
use plumbline_core::{id::SchoolId, time::Instant, trust::Shared};
use serde::{Deserialize, Serialize};

use super::{ISSUER, Tokens};
use crate::http::problem::{Code, Problem};

const TYPE: &str = "trust-release+jwt";
/// Bytes of a public key.
const KEY_BYTES: usize = 32;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Claims {
    iss: String,
    /// The school where the trust's lead works.
    aud: SchoolId,
    /// The school that shows it.
    sub: SchoolId,
    iat: i64,
    shared: Shared,
}

/// Whether a text can be such a key.
pub fn is_key(text: &str) -> bool {
    URL_SAFE_NO_PAD.decode(text).is_ok_and(|bytes| bytes.len() == KEY_BYTES)
}

/// Which school a file says it is of. Nothing vouches for that yet.
pub fn says_it_is_of(file: &str) -> Option<SchoolId> {
    #[derive(Deserialize)]
    struct Says {
        sub: SchoolId,
    }
    let claims = URL_SAFE_NO_PAD.decode(file.split('.').nth(1)?).ok()?;
    serde_json::from_slice::<Says>(&claims).ok().map(|says| says.sub)
}

/// What a file holds and when it was signed, if it is of this school's server by its key, and for this trust.
pub fn vouched_for(file: &str, key: &str, school: SchoolId, trust: SchoolId) -> Option<(Shared, Instant)> {
    let header = decode_header(file).ok()?;
    if header.alg != Algorithm::EdDSA || header.typ.as_deref() != Some(TYPE) {
        return None;
    }
    let mut validation = Validation::new(Algorithm::EdDSA);
    // It says what was released on a day, and goes on being true.
    validation.validate_exp = false;
    validation.set_issuer(&[ISSUER]);
    validation.set_audience(&[trust.to_string()]);
    validation.set_required_spec_claims(&["iss", "aud", "sub"]);
    let claims =
        decode::<Claims>(file, &DecodingKey::from_ed_components(key).ok()?, &validation).ok()?.claims;
    let Claims { sub, iat, shared, .. } = claims;
    let at = Instant::from_micros(0).plus_seconds(iat);
    (sub == school && shared.figures.school_id == school).then_some((shared, at))
}

impl Tokens {
    /// The key by which files of this server are known: an Ed25519 public key in base64url.
    pub fn public_key(&self) -> &str {
        &self.public
    }

    /// A file for a trust.
    ///
    /// # Errors
    /// `internal` if signing fails.
    pub fn vouch(&self, trust: SchoolId, shared: Shared, at: Instant) -> Result<String, Problem> {
        let sub = shared.figures.school_id;
        let claims = Claims { iss: ISSUER.into(), aud: trust, sub, iat: at.seconds(), shared };
        let header =
            Header { typ: Some(TYPE.into()), kid: Some(self.kid.clone()), ..Header::new(Algorithm::EdDSA) };
        encode(&header, &claims, &self.signing).map_err(|error| {
            tracing::error!(%error, "signing a file for a trust");
            Problem::new(Code::Internal)
        })
    }
}
