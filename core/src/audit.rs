//! The audit chain: each entry's digest covers the one before, so that an entry changed,
//! removed or moved shows. Who and whom are hidden in salted commitments; the salts and
//! names live beside the chain and can be erased without breaking it. Its ends are signed, month
//! by month and the latest, so that a chain made anew, or one cut off, shows too.

use sha2::{Digest as _, Sha256};

use crate::{
    id::{SchoolId, StaffId},
    time::Instant,
};

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

/// What is signed for the end of a chain: of a month that is over, or of all there is by now. The name in front
/// keeps it apart from everything else the same key signs.
pub fn seal(school: SchoolId, segment: &str, seq: i64, digest: &Digest) -> Vec<u8> {
    let length = u64::try_from(segment.len()).unwrap_or(u64::MAX).to_be_bytes();
    let (id, seq) = (*school.uuid().as_bytes(), seq.to_be_bytes());
    [b"plumbline audit seal 1".as_slice(), &id, &length, segment.as_bytes(), &seq, digest].concat()
}

/// The first thing that is wrong with a chain. Entries are named by their place in it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// It is not there, and later ones are.
    #[error("entry {0} is missing")]
    Missing(i64),
    /// It does not follow from the one before.
    #[error("entry {0} was changed, or put there later")]
    Changed(i64),
    /// It is there, at another place.
    #[error("entry {seq} was moved: what was written there stands at {stands_at}")]
    Moved {
        /// Where it belongs.
        seq: i64,
        /// Where it is.
        stands_at: i64,
    },
    /// What stands beside it of who and whom is not what it committed to.
    #[error("entry {0}: who or whom was changed")]
    Identity(i64),
    /// Nothing stands beside it, and no later entry says that it was erased.
    #[error("entry {0}: who and whom are gone, and no erasure says so")]
    IdentityGone(i64),
    /// It and all after it are gone.
    #[error("the log was cut off: entry {0} and what came after it are gone")]
    CutOff(i64),
    /// It is not the one that was signed, so that it or one before was changed and all after it made anew.
    #[error("entry {seq} is not the one that was signed for {segment}: the log was made anew")]
    MadeAnew {
        /// The entry.
        seq: i64,
        /// A month, or `head`.
        segment: String,
    },
    /// The signature is of none of the server's keys.
    #[error("entry {seq} was signed for {segment} with key {key}, and not by this server")]
    Signature {
        /// The entry.
        seq: i64,
        /// A month, or `head`.
        segment: String,
        /// The key it names.
        key: String,
    },
    /// Months are signed, and the latest end is not.
    #[error("the end of the log is not signed, and earlier ends are")]
    NoHead,
    /// The school's own note of the end is of another entry.
    #[error("entry {0} is not the end that the school's record names")]
    End(i64),
    /// It is not the one that was noted outside.
    #[error("entry {0} is not the one that was noted")]
    Noted(i64),
}

/// A chain walked entry by entry from its beginning.
#[derive(Clone, Copy, Debug, Default)]
pub struct Walk {
    /// The last entry reached; none is 0.
    pub seq: i64,
    /// Its digest.
    pub digest: Digest,
}

impl Walk {
    /// Goes on by one entry as it is stored with its digest; `later` are those stored after it, for finding what
    /// was moved.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn follow(
        &mut self,
        stored: (&Entry<'_>, &Digest),
        later: &[(Entry<'_>, Digest)],
    ) -> Result<(), Fault> {
        let (seq, (entry, digest)) = (self.seq + 1, stored);
        let belongs =
            |entry: &Entry<'_>, digest: &Digest| link(&self.digest, &Entry { seq, ..*entry }) == *digest;
        if entry.seq > seq {
            return Err(Fault::Missing(seq));
        }
        if !belongs(entry, digest) {
            let stands_at =
                later.iter().find(|(entry, digest)| belongs(entry, digest)).map(|(entry, _)| entry.seq);
            return Err(stands_at.map_or(Fault::Changed(seq), |stands_at| Fault::Moved { seq, stands_at }));
        }
        *self = Self { seq, digest: *digest };
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A chain of these operations.
    fn chain(operations: &[&'static str]) -> Vec<(Entry<'static>, Digest)> {
        let mut walk = Walk::default();
        operations
            .iter()
            .map(|operation| {
                let entry = entry(walk.seq + 1, operation);
                walk = Walk { seq: entry.seq, digest: link(&walk.digest, &entry) };
                (entry, walk.digest)
            })
            .collect()
    }

    fn walked(chain: &[(Entry<'_>, Digest)]) -> Result<i64, Fault> {
        let mut walk = Walk::default();
        for (n, (entry, digest)) in chain.iter().enumerate() {
            walk.follow((entry, digest), &chain[n + 1..])?;
        }
        Ok(walk.seq)
    }

    #[test]
    fn what_was_done_to_a_chain_is_named() {
        let whole = chain(&["a", "b", "c", "d", "e"]);
        assert_eq!(walked(&whole), Ok(5));
        let mut edited = whole.clone();
        edited[2].0.operation = "x";
        assert_eq!(walked(&edited), Err(Fault::Changed(3)));
        let mut without = whole.clone();
        without.remove(1);
        assert_eq!(walked(&without), Err(Fault::Missing(2)));
        let mut closed_up = without.clone();
        (2..).zip(&mut closed_up[1..]).for_each(|(seq, (entry, _))| entry.seq = seq);
        assert_eq!(walked(&closed_up), Err(Fault::Changed(2)));
        let mut moved = whole.clone();
        moved.swap(1, 3);
        (moved[1].0.seq, moved[3].0.seq) = (2, 4);
        assert_eq!(walked(&moved), Err(Fault::Moved { seq: 2, stands_at: 4 }));
        // What was added at the front pushes the first away.
        let mut added = chain(&["x"]);
        added.extend(whole.iter().map(|(entry, digest)| (Entry { seq: entry.seq + 1, ..*entry }, *digest)));
        assert_eq!(walked(&added), Err(Fault::Changed(2)));
        assert_eq!(walked(&whole[..3]), Ok(3));
    }

    #[test]
    fn a_seal_is_of_one_school_segment_and_end() {
        let school = |n| SchoolId::from_uuid(uuid::Uuid::from_u128(n));
        let base = seal(school(1), "2026-11", 5, &[7; 32]);
        assert!(base.starts_with(b"plumbline audit seal 1"));
        for other in [
            seal(school(2), "2026-11", 5, &[7; 32]),
            seal(school(1), "head", 5, &[7; 32]),
            seal(school(1), "2026-11", 6, &[7; 32]),
            seal(school(1), "2026-11", 5, &[8; 32]),
        ] {
            assert_ne!(base, other);
        }
    }

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
