//! How the server vouches for its audit log: with the keys of its tokens, so that there is one folder of keys to keep
//! and to turn over. What is signed begins with words of its own that no token begins with (RFC 8725, 3.11), and a
//! key stays in the folder as long as an end signed with it is to be verified.

use jsonwebtoken::{
    Algorithm,
    crypto::{sign, verify},
};

use super::Tokens;
use crate::store::{AuditKeys, Signed};

impl AuditKeys for Tokens {
    fn sign(&self, message: &[u8]) -> Option<Signed> {
        let signature = sign(message, &self.signing, Algorithm::EdDSA).ok()?;
        Some(Signed { key: self.kid.clone(), signature })
    }

    fn signed(&self, message: &[u8], by: &Signed) -> bool {
        self.keys
            .get(&by.key)
            .is_some_and(|key| verify(&by.signature, message, key, Algorithm::EdDSA).unwrap_or(false))
    }
}
