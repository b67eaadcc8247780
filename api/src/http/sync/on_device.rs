//! Records as tablets hold them: no more of each than a carpet needs.

use plumbline_core::{
    calendar::TimetableLine,
    check::{CorrectionReason, Outcome, ResponseMode},
    id::{
        CheckId, CheckItemId, ClassId, GroupId, ItemId, LessonId, PupilId, ResponseId, RoundId, SchoolId,
        SequenceId, SittingId, StaffId, VersionId,
    },
    roster::Weekday,
    time::{Date, Instant},
};
use serde::Serialize;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{ObjectBuilder, Ref, RefOr, Schema},
};

use crate::{
    http::v1::{
        AdultView,
        answering::{NotAccessibleBody, UsualSound},
        calendar::{ClosureBody, YearBody},
        catch_ups::CatchUpRecordBody,
        checks::{CheckBody, RoundBody},
        exemptions::ExemptionBody,
        lessons::LessonRecordBody,
        sequences::VersionBody,
    },
    store::RecordKind,
};

/// A code of the rule pack, as shown.
#[derive(Serialize, ToSchema)]
#[schema(as = CodeOnDevice)]
pub(super) struct CodeBody {
    pub(super) code: String,
    pub(super) label: String,
}

/// A member of staff, by name.
#[derive(Serialize, ToSchema)]
pub(super) struct NameOnDevice {
    pub(super) id: StaffId,
    pub(super) name: String,
}

/// The school, with what forms need of its rule pack.
#[derive(Serialize, ToSchema)]
pub(super) struct SchoolOnDevice {
    pub(super) id: SchoolId,
    pub(super) name: String,
    pub(super) time_zone: String,
    pub(super) rule_pack: String,
    pub(super) year_groups: Vec<CodeBody>,
    pub(super) not_taught_reasons: Vec<CodeBody>,
}

/// A class with its adults, those that are to come too.
#[derive(Serialize, ToSchema)]
pub(super) struct ClassOnDevice {
    pub(super) id: ClassId,
    pub(super) name: String,
    pub(super) adults: Vec<AdultView>,
}

/// A pupil: no day of birth, no number, no reference.
#[derive(Serialize, ToSchema)]
pub(super) struct PupilOnDevice {
    pub(super) id: PupilId,
    pub(super) name: String,
    /// What staff chose to tell namesakes apart.
    pub(super) label: Option<String>,
    pub(super) class_ids: Vec<ClassId>,
    pub(super) year_group: Option<String>,
}

/// A version that a group keeps.
#[derive(Serialize, ToSchema)]
pub(super) struct KeptOnDevice {
    pub(super) version_id: VersionId,
    pub(super) from: Date,
    pub(super) until: Option<Date>,
}

/// A group with its adults and the versions it keeps.
#[derive(Serialize, ToSchema)]
pub(super) struct GroupOnDevice {
    pub(super) id: GroupId,
    pub(super) name: String,
    pub(super) sequence_id: SequenceId,
    pub(super) closed_on: Option<Date>,
    pub(super) kept_versions: Vec<KeptOnDevice>,
    pub(super) adults: Vec<AdultView>,
}

/// Days of a pupil in a group.
#[derive(Serialize, ToSchema)]
pub(super) struct MemberOnDevice {
    pub(super) group_id: GroupId,
    pub(super) pupil_id: PupilId,
    pub(super) from: Date,
    pub(super) until: Option<Date>,
    pub(super) weekdays: Option<Vec<Weekday>>,
    pub(super) mornings_only: Vec<Weekday>,
    pub(super) afternoons_only: Vec<Weekday>,
}

/// The weekly lessons of a group, by the day from which they count.
#[derive(Serialize, ToSchema)]
pub(super) struct TimetableOnDevice {
    pub(super) group_id: GroupId,
    pub(super) lines: Vec<TimetableLine>,
}

/// What a group was taught before its records begin.
#[derive(Serialize, ToSchema)]
pub(super) struct CarriedOnDevice {
    pub(super) group_id: GroupId,
    pub(super) as_of: Date,
    pub(super) version_id: VersionId,
    pub(super) lesson_ids: Vec<LessonId>,
    pub(super) item_ids: Vec<ItemId>,
    pub(super) pupils: Vec<CarriedPupil>,
}

/// A pupil something was carried in for.
#[derive(Serialize, ToSchema)]
#[schema(as = CarriedPupilOnDevice)]
pub(super) struct CarriedPupil {
    pub(super) pupil_id: PupilId,
    pub(super) missed: Vec<ItemId>,
}

/// An answer to an item of a check.
#[derive(Serialize, ToSchema)]
pub(super) struct ResponseOnDevice {
    pub(super) id: ResponseId,
    pub(super) round_id: RoundId,
    pub(super) check_id: CheckId,
    pub(super) item_id: CheckItemId,
    pub(super) pupil_id: PupilId,
    pub(super) on: Date,
    pub(super) outcome: Outcome,
    pub(super) heard: Option<String>,
    pub(super) mode: ResponseMode,
    pub(super) taken_by: StaffId,
    pub(super) corrects: Option<ResponseId>,
    pub(super) reason: Option<CorrectionReason>,
    pub(super) sitting_id: Option<SittingId>,
    pub(super) late: bool,
}

/// A sitting: a pupil is asked a check.
#[derive(Serialize, ToSchema)]
pub(super) struct SittingOnDevice {
    pub(super) id: SittingId,
    pub(super) round_id: RoundId,
    pub(super) pupil_id: PupilId,
    pub(super) check_id: CheckId,
    pub(super) held_by: StaffId,
    pub(super) adults: Vec<StaffId>,
    pub(super) paused_at: Option<Instant>,
    pub(super) finished_at: Option<Instant>,
}

/// How a pupil usually answers checks, how the pupil says sounds, and what is not accessible.
#[derive(Serialize, ToSchema)]
pub(super) struct AnsweringOnDevice {
    pub(super) pupil_id: PupilId,
    pub(super) mode: ResponseMode,
    pub(super) speech: Vec<UsualSound>,
    pub(super) not_accessible: Vec<NotAccessibleBody>,
}

/// What `body` of a pulled row says, by its kind: an object that is described, and never sent.
pub struct BodyByKind;

/// The schema of a kind's body.
macro_rules! by_kind {
    ($($kind:ident => $body:ty,)+) => {
        impl PartialSchema for BodyByKind {
            fn schema() -> RefOr<Schema> {
                ObjectBuilder::new()
                    .description(Some("What `body` of a pulled row says, by the row's `kind`."))
                    $(.property(RecordKind::$kind.as_str(), Ref::from_schema_name(<$body>::name())))+
                    .into()
            }
        }

        impl ToSchema for BodyByKind {
            fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
                $(
                    schemas.push((<$body>::name().into_owned(), <$body>::schema()));
                    <$body>::schemas(schemas);
                )+
            }
        }
    };
}

by_kind! {
    School => SchoolOnDevice,
    StaffName => NameOnDevice,
    SchoolYear => YearBody,
    Closure => ClosureBody,
    SequenceVersion => VersionBody,
    Check => CheckBody,
    CheckRound => RoundBody,
    Class => ClassOnDevice,
    Pupil => PupilOnDevice,
    Group => GroupOnDevice,
    GroupMember => MemberOnDevice,
    Timetable => TimetableOnDevice,
    CarriedIn => CarriedOnDevice,
    LessonRecord => LessonRecordBody,
    CatchUp => CatchUpRecordBody,
    Response => ResponseOnDevice,
    Sitting => SittingOnDevice,
    PupilAnswering => AnsweringOnDevice,
    Exemption => ExemptionBody,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_described() {
        let RefOr::T(Schema::Object(described)) = BodyByKind::schema() else { panic!("an object") };
        let mut kinds: Vec<&str> = RecordKind::ALL.iter().map(|kind| kind.as_str()).collect();
        kinds.sort_unstable();
        assert_eq!(described.properties.keys().collect::<Vec<_>>(), kinds);
    }
}
