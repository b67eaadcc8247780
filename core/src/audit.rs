//! The audit chain: each entry's digest covers the one before, so that an entry changed,
//! removed or moved shows. Who and whom are hidden in salted commitments; the salts and
//! names live beside the chain and can be erased without breaking it.

use sha2::{Digest as _, Sha256};

use crate::{id::StaffId, time::Instant};

/// A SHA-256 digest.
pub type Digest = [u8; 32];

/// What one entry says. Identities appear only as commitments.
#[derive(Clone, Copy, Debug)]
pub struct Entry<'a> {
    /// Place in the school's chain, from 1, without gaps.
    pub seq: i64,
    /// When.
    pub at: Instant,
    /// The operation's name, such as `lesson.record`.
    pub operation: &'a str,
    /// The kind of thing acted on, such as `pupil`.
    pub subject_kind: &'a str,
    /// Commitment to the actor and the subject.
    pub commitment: Digest,
}

/// Commits to an actor, none where a link was opened, and a subject under a salt: tells nothing
/// without the salt, and fixes both with it.
pub fn commit(salt: &[u8; 16], actor: Option<StaffId>, subject: Option<uuid::Uuid>) -> Digest {
    let mut hash = Sha256::new();
    hash.update(b"plumbline audit identity 1");
    hash.update(salt);
    hash.update(actor.map(StaffId::uuid).unwrap_or_default().as_bytes());
    hash.update(subject.unwrap_or_default().as_bytes());
    hash.finalize().into()
}

/// The digest of an entry that follows `previous` (all zero for the first).
pub fn link(previous: &Digest, entry: &Entry<'_>) -> Digest {
    let mut hash = Sha256::new();
    hash.update(b"plumbline audit entry 1");
    hash.update(previous);
    hash.update(entry.seq.to_be_bytes());
    hash.update(entry.at.micros().to_be_bytes());
    for text in [entry.operation, entry.subject_kind] {
        hash.update(u64::try_from(text.len()).unwrap_or(u64::MAX).to_be_bytes());
        hash.update(text.as_bytes());
    }
    hash.update(entry.commitment);
    hash.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(seq: i64, operation: &str) -> Entry<'_> {
        Entry { seq, at: Instant::from_micros(7), operation, subject_kind: "pupil", commitment: [1; 32] }
    }

    #[test]
    fn every_part_of_an_entry_is_covered() {
        let base = link(&[0; 32], &entry(1, "pupil.read"));
        assert_eq!(base, link(&[0; 32], &entry(1, "pupil.read")));
        assert_ne!(base, link(&[1; 32], &entry(1, "pupil.read")));
        assert_ne!(base, link(&[0; 32], &entry(2, "pupil.read")));
        assert_ne!(base, link(&[0; 32], &entry(1, "pupil.rea")));
        assert_ne!(base, link(&[0; 32], &Entry { at: Instant::from_micros(8), ..entry(1, "pupil.read") }));
        assert_ne!(base, link(&[0; 32], &Entry { subject_kind: "class", ..entry(1, "pupil.read") }));
        assert_ne!(base, link(&[0; 32], &Entry { commitment: [2; 32], ..entry(1, "pupil.read") }));
    }

    #[test]
    fn text_cannot_slide_between_fields() {
        let a = Entry { operation: "ab", subject_kind: "c", ..entry(1, "") };
        let b = Entry { operation: "a", subject_kind: "bc", ..entry(1, "") };
        assert_ne!(link(&[0; 32], &a), link(&[0; 32], &b));
    }

    #[test]
    fn commitments_hide_without_the_salt_and_bind_with_it() {
        let staff = Some(StaffId::from_uuid(uuid::Uuid::from_u128(1)));
        let pupil = Some(uuid::Uuid::max());
        assert_eq!(commit(&[3; 16], staff, pupil), commit(&[3; 16], staff, pupil));
        assert_ne!(commit(&[3; 16], staff, pupil), commit(&[4; 16], staff, pupil));
        assert_ne!(commit(&[3; 16], staff, pupil), commit(&[3; 16], staff, None));
        assert_ne!(commit(&[3; 16], staff, pupil), commit(&[3; 16], None, pupil));
    }
}
