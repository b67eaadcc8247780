//! Random secrets and the opaque tokens that carry them. Only their SHA-256 is stored.

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use plumbline_core::id::{CoverLinkId, InvitationId, SchoolId, SessionId};
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

use crate::store::{
    LinkKey,
    gate::{RefreshId, RefreshKey, SecretHash},
};

/// A secret of 256 random bits.
pub struct Secret([u8; 32]);

impl Secret {
    /// A new one.
    ///
    /// # Errors
    /// If the system gives no randomness.
    pub fn new() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes)?;
        Ok(Self(bytes))
    }

    /// What is stored.
    pub fn hash(&self) -> SecretHash {
        Sha256::digest(self.0).into()
    }
}

fn pack(ids: &[Uuid], secret: &Secret) -> String {
    let mut bytes: Vec<u8> = ids.iter().flat_map(|id| *id.as_bytes()).collect();
    bytes.extend(secret.0);
    URL_SAFE_NO_PAD.encode(bytes)
}

fn unpack<const N: usize>(token: &str) -> Option<([Uuid; N], SecretHash)> {
    let bytes = URL_SAFE_NO_PAD.decode(token).ok()?;
    let (ids, secret) = bytes.split_at_checked(N * 16)?;
    let secret = Secret(secret.try_into().ok()?);
    let mut uuids = [Uuid::nil(); N];
    for (uuid, bytes) in uuids.iter_mut().zip(ids.chunks_exact(16)) {
        *uuid = Uuid::from_slice(bytes).ok()?;
    }
    Some((uuids, secret.hash()))
}

/// A refresh token as sent.
pub fn refresh_token(key: RefreshKey, secret: &Secret) -> String {
    pack(&[key.school.uuid(), key.session.uuid(), key.token.uuid()], secret)
}

/// What a refresh token names, with the hash of its secret.
pub fn read_refresh_token(token: &str) -> Option<(RefreshKey, SecretHash)> {
    let ([school, session, id], hash) = unpack::<3>(token)?;
    let key = RefreshKey {
        school: SchoolId::from_uuid(school),
        session: SessionId::from_uuid(session),
        token: RefreshId::from_uuid(id),
    };
    Some((key, hash))
}

/// An invitation's token as sent.
pub fn invitation_token(school: SchoolId, id: InvitationId, secret: &Secret) -> String {
    pack(&[school.uuid(), id.uuid()], secret)
}

/// What an invitation's token names, with the hash of its secret.
pub fn read_invitation_token(token: &str) -> Option<(SchoolId, InvitationId, SecretHash)> {
    let ([school, id], hash) = unpack::<2>(token)?;
    Some((SchoolId::from_uuid(school), InvitationId::from_uuid(id), hash))
}

/// What stands in a link to a cover page.
pub fn cover_link_token(school: SchoolId, id: CoverLinkId, secret: &Secret) -> String {
    pack(&[school.uuid(), id.uuid()], secret)
}

/// What a link to a cover page names, with the hash of its secret.
pub fn read_cover_link_token(token: &str) -> Option<LinkKey> {
    let ([school, id], secret) = unpack::<2>(token)?;
    Some(LinkKey { school: SchoolId::from_uuid(school), id: CoverLinkId::from_uuid(id), secret })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_come_back_and_anything_else_does_not() {
        let secret = Secret::new().unwrap();
        let (school, id) = (SchoolId::from_uuid(Uuid::max()), InvitationId::from_uuid(Uuid::nil()));
        let token = invitation_token(school, id, &secret);
        assert_eq!(read_invitation_token(&token), Some((school, id, secret.hash())));
        assert!(read_refresh_token(&token).is_none());
        for wrong in ["", "x", &token[1..], &format!("{token}AAAA")] {
            assert_eq!(read_invitation_token(wrong), None);
        }
    }
}
