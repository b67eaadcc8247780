//! Typed ids. A pupil's id cannot be passed where a group's is wanted.
//!
//! Ids are UUIDs: version 7 where the server or a device makes them (they sort by time, which keeps
//! indexes compact and answers in order), version 5 where identity is a natural key (RFC 9562).

use std::{cmp::Ordering, fmt, hash, marker::PhantomData, str::FromStr};

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

/// What an id names.
pub trait Kind {
    /// Lower-case singular, used in messages and in the change log.
    const NAME: &'static str;
}

/// A UUID that names one kind of thing.
pub struct Id<K> {
    uuid: Uuid,
    kind: PhantomData<fn() -> K>,
}

impl<K> Id<K> {
    /// Takes a UUID as the id of a `K`.
    pub const fn from_uuid(uuid: Uuid) -> Self {
        Self { uuid, kind: PhantomData }
    }

    /// The UUID without its type.
    pub const fn uuid(self) -> Uuid {
        self.uuid
    }

    /// The id that follows from a natural key: the same parts always give the same id.
    /// Parts are joined with U+001F, which no validated text can hold.
    pub fn from_parts(namespace: Uuid, parts: &[&str]) -> Self {
        Self::from_uuid(Uuid::new_v5(&namespace, parts.join("\u{1f}").as_bytes()))
    }
}

impl<K> Clone for Id<K> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<K> Copy for Id<K> {}
impl<K> PartialEq for Id<K> {
    fn eq(&self, other: &Self) -> bool {
        self.uuid == other.uuid
    }
}
impl<K> Eq for Id<K> {}
impl<K> PartialOrd for Id<K> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl<K> Ord for Id<K> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.uuid.cmp(&other.uuid)
    }
}
impl<K> hash::Hash for Id<K> {
    fn hash<H: hash::Hasher>(&self, state: &mut H) {
        self.uuid.hash(state);
    }
}
impl<K> fmt::Debug for Id<K> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.uuid, f)
    }
}
impl<K> fmt::Display for Id<K> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.uuid, f)
    }
}
impl<K> FromStr for Id<K> {
    type Err = uuid::Error;
    fn from_str(s: &str) -> Result<Self, Self::Err> {
        Uuid::from_str(s).map(Self::from_uuid)
    }
}
impl<K> Serialize for Id<K> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.uuid.serialize(serializer)
    }
}
impl<'de, K> Deserialize<'de> for Id<K> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Uuid::deserialize(deserializer).map(Self::from_uuid)
    }
}

/// Reads an id that a device made: of version 7, so that what was made later sorts later. Answers count in the order of
/// their ids, and the last of them is the one an undo takes back.
///
/// # Errors
/// For no id, and for one of another version.
pub fn of_device<'de, D: Deserializer<'de>, K>(field: D) -> Result<Id<K>, D::Error> {
    let id = Id::deserialize(field)?;
    match id.uuid.get_version_num() {
        7 => Ok(id),
        _ => Err(serde::de::Error::custom("must be a UUID of version 7")),
    }
}

/// The same where the server makes one if the device did not.
///
/// # Errors
/// As [`of_device`].
pub fn of_device_if_any<'de, D: Deserializer<'de>, K>(field: D) -> Result<Option<Id<K>>, D::Error> {
    /// An id that a device made.
    struct OfDevice<K>(Id<K>);
    impl<'de, K> Deserialize<'de> for OfDevice<K> {
        fn deserialize<D: Deserializer<'de>>(field: D) -> Result<Self, D::Error> {
            of_device(field).map(Self)
        }
    }
    Ok(Option::<OfDevice<K>>::deserialize(field)?.map(|id| id.0))
}

#[cfg(feature = "schema")]
impl<K> utoipa::PartialSchema for Id<K> {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, SchemaFormat, Type};
        ObjectBuilder::new()
            .schema_type(Type::String)
            .format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)))
            .into()
    }
}
#[cfg(feature = "schema")]
impl<K: Kind> utoipa::ToSchema for Id<K> {
    fn name() -> std::borrow::Cow<'static, str> {
        format!("{}_id", K::NAME).into()
    }
}

macro_rules! ids {
    ($($(#[$doc:meta])* $kind:ident $alias:ident $name:literal;)+) => {
        /// The kinds of thing that have ids.
        pub mod kind {
            $($(#[$doc])* pub enum $kind {}
            impl super::Kind for $kind { const NAME: &'static str = $name; })+
        }
        $($(#[$doc])* pub type $alias = Id<kind::$kind>;)+
    };
}

ids! {
    /// A school; first part of every key.
    School SchoolId "school";
    /// A sign-in account, which may serve staff of several schools.
    Account AccountId "account";
    /// A member of one school's staff.
    Staff StaffId "staff";
    /// An unanswered invitation to join a school's staff.
    Invitation InvitationId "invitation";
    /// A sign-in on one device.
    Session SessionId "session";
    /// A class of the school.
    Class ClassId "class";
    /// A pupil.
    Pupil PupilId "pupil";
    /// A roster import.
    RosterImport RosterImportId "roster_import";
    /// A half term.
    HalfTerm HalfTermId "half_term";
    /// A day, other than a weekend or holiday, on which the school does not teach.
    Closure ClosureId "closure";
    /// A teaching sequence.
    Sequence SequenceId "sequence";
    /// A proposal of a sequence.
    Proposal ProposalId "sequence_proposal";
    /// A published, immutable version of a sequence.
    Version VersionId "sequence_version";
    /// A step of a sequence.
    Step StepId "step";
    /// A planned lesson of a sequence.
    Lesson LessonId "lesson";
    /// An item taught by a lesson. A GPC's id follows from its pair.
    Item ItemId "item";
    /// A teaching group.
    Group GroupId "group";
    /// A proposal of teaching groups.
    GroupProposal GroupProposalId "group_proposal";
    /// A link that opens one group's cover page for one day.
    CoverLink CoverLinkId "cover_link";
    /// The record of one lesson given to one group.
    LessonRecord LessonRecordId "lesson_record";
    /// The record of catch-up given to some pupils of a group.
    CatchUp CatchUpId "catch_up";
    /// A check: a list of items to ask.
    Check CheckId "check";
    /// An item of a check.
    CheckItem CheckItemId "check_item";
    /// A round of checks.
    Round RoundId "check_round";
    /// A placement check of one pupil. It is a round of its own, under the same UUID.
    Placement PlacementId "placement";
    /// One adult asking one pupil one check.
    Sitting SittingId "sitting";
    ReportSnapshot ReportSnapshotId "report_snapshot";
    ReportRelease ReportReleaseId "report_release";
    /// What a school showed its trust of one release.
    TrustShare TrustShareId "trust_share";
    /// A school on the list of a trust.
    TrustSchool TrustSchoolId "trust_school";
    /// That a pupil is not asked in a round, or not one of its checks.
    Exemption ExemptionId "exemption";
    /// A window of the statutory check at the school.
    StatutoryWindow StatutoryWindowId "statutory_window";
    /// One entry of one pupil's result in the statutory check.
    StatutoryResult StatutoryResultId "statutory_result";
    /// A result of the statutory check from another school or from before the records here.
    EarlierResult EarlierResultId "earlier_statutory_result";
    /// One answer of one pupil to one item.
    Response ResponseId "response";
    /// That checks are not accessible to a pupil.
    NotAccessible NotAccessibleId "not_accessible";
    /// Second marking of a sample of a round's check.
    SecondMarking SecondMarkingId "second_marking";
    /// One pupil of such a sample.
    SecondSample SecondSampleId "second_sample";
    /// Answers of one pupil on one day, carried in.
    CarriedCheck CarriedCheckId "carried_check";
    /// A word a school adds, or reads in its own way.
    SchoolWord SchoolWordId "school_word";
    /// A word a school never shows to children.
    StruckWord StruckWordId "struck_word";
    /// That two records are of one child, or of two.
    PupilDecision PupilDecisionId "pupil_decision";
    /// A set of pseudo-words made for a check.
    PseudoWordSet PseudoWordSetId "pseudo_word_set";
    /// A reading book of the school.
    Book BookId "book";
    /// A browser on a device.
    Tablet TabletId "tablet";
    /// One person on one tablet.
    Replica ReplicaId "replica";
    /// One operation a tablet sent.
    Op OpId "op";
}
