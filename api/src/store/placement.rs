//! Placement checks. Each is a round of one pupil, and its answers are responses like any others.

use diesel::prelude::*;
use plumbline_core::{
    access::{
        act::{Read, Record},
        resource::{PupilChecks, PupilPlacements},
    },
    check::{CheckItem, CheckKind, Dates, Response, RoundPlan, placement::in_teaching_order},
    id::{CheckId, CheckItemId, PlacementId, PupilId, RoundId, SchoolId, StaffId, VersionId},
    text::Title,
    time::{Date, Instant},
};
use serde_json::json;
use uuid::Uuid;

use super::{
    CheckRow, Error, Permit, RoundRow, Tx, VersionRow, conn::db, response::response_of, schema::placement,
    tx::days_after,
};

/// Namespace of the check that placements on a version ask, and of its items.
const NAMESPACE: Uuid = Uuid::from_u128(0x7c1d_40e8_93fb_5a26_b8d4_06e9_51aa_2f73);

/// A placement check.
#[derive(Clone, Debug, Queryable, Selectable, Insertable)]
#[diesel(table_name = placement, treat_none_as_default_value = false)]
pub struct PlacementRow {
    /// The school.
    pub school_id: SchoolId,
    /// Its id.
    pub id: PlacementId,
    /// The pupil.
    pub pupil_id: PupilId,
    /// The sequence version it walks.
    pub version_id: VersionId,
    /// What is asked: every GPC of the version.
    pub check_id: CheckId,
    /// Who began it.
    pub started_by: StaffId,
    /// When.
    pub started_at: Instant,
    /// When an adult ended it.
    pub ended_at: Option<Instant>,
    /// Its version.
    pub v: i64,
}

impl PlacementRow {
    /// The round of one pupil that it is.
    pub const fn round(&self) -> RoundId {
        RoundId::from_uuid(self.id.uuid())
    }
}

/// A placement check with all it rests on.
#[derive(Clone, Debug)]
pub struct PlacementView {
    /// The row.
    pub row: PlacementRow,
    /// Its days.
    pub round: RoundRow,
    /// What is asked.
    pub check: CheckRow,
    /// The sequence version it walks.
    pub version: VersionRow,
    /// Its responses, corrections and corrected ones too, in order of entry.
    pub responses: Vec<Response>,
}

impl<'tx> Tx<'tx> {
    /// Begins a placement check on a sequence version, open for some days from the permit's day on, under the id a device gave it
    /// or one of the server's.
    ///
    /// # Errors
    /// [`Error::Conflict`] if the id is taken.
    pub fn begin_placement(
        &mut self,
        permit: &Permit<'tx, Record, PupilPlacements>,
        id: Option<PlacementId>,
        version: &VersionRow,
        days: u32,
    ) -> Result<PlacementRow, Error> {
        let PupilPlacements { pupil, on } = *permit.resource();
        self.about("pupil", pupil.uuid());
        let check = self.placement_check(version)?;
        let opens_on = on.unwrap_or(self.today());
        let dates = Dates { opens_on, closes_on: days_after(opens_on, days - 1) };
        let id = id.map(|id| RoundId::from_uuid(id.uuid()));
        let round = self.insert_round(id, "Placement", dates, &[check], &RoundPlan::default())?;
        let row = PlacementRow {
            school_id: self.school(),
            id: PlacementId::from_uuid(round.id.uuid()),
            pupil_id: pupil,
            version_id: version.head.id,
            check_id: check,
            started_by: self.actor.staff,
            started_at: self.now(),
            ended_at: None,
            v: self.version,
        };
        db!(self.conn, c => diesel::insert_into(placement::table).values(&row).execute(c))?;
        self.save_placement(&row)?;
        Ok(row)
    }

    fn save_placement(&mut self, row: &PlacementRow) -> Result<(), Error> {
        let body =
            json!({"pupil_id": row.pupil_id, "version_id": row.version_id, "ended": row.ended_at.is_some()});
        self.save("placement", row.id.uuid(), &[], &body)
    }

    /// The check that asks every GPC of a version, made when first needed.
    fn placement_check(&mut self, version: &VersionRow) -> Result<CheckId, Error> {
        let (school, of) = (self.school().to_string(), version.head.id.to_string());
        let id = CheckId::from_parts(NAMESPACE, &[&school, &of]);
        if self.check_found(id)?.is_some() {
            return Ok(id);
        }
        let mut items = Vec::new();
        for one in in_teaching_order(&version.content) {
            let Some(gpc) = &one.item.gpc else { continue };
            let prompt = Title::new(&gpc.grapheme).map_err(|error| Error::Damaged(error.to_string()))?;
            let item = CheckItemId::from_parts(NAMESPACE, &[&school, &of, &one.item.id.to_string()]);
            items.push(CheckItem { gpc_id: Some(one.item.id), ..CheckItem::new(item, prompt) });
        }
        self.insert_check(CheckRow {
            id,
            name: "Placement".to_owned(),
            kind: CheckKind::Placement,
            items,
            series: id,
            version: 1,
            built: None,
            v: self.version,
        })?;
        Ok(id)
    }

    /// A pupil's placement checks, the latest first. The reading is of the pupil.
    ///
    /// # Errors
    /// If the store fails.
    pub fn placements<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilPlacements>,
    ) -> Result<Vec<PlacementRow>, Error> {
        let (school, pupil) = (self.school(), permit.resource().pupil);
        self.about("pupil", pupil.uuid());
        Ok(db!(self.conn, c => placement::table
            .filter(placement::school_id.eq(school))
            .filter(placement::pupil_id.eq(pupil))
            .order((placement::started_at.desc(), placement::id.desc()))
            .select(PlacementRow::as_select())
            .load(c))?)
    }

    /// One placement check of the pupil, with all it rests on.
    ///
    /// # Errors
    /// [`Error::Missing`] if it is not the pupil's.
    pub fn placement<A>(
        &mut self,
        permit: &Permit<'tx, A, PupilPlacements>,
        id: PlacementId,
    ) -> Result<PlacementView, Error> {
        let (school, pupil) = (self.school(), permit.resource().pupil);
        let row: PlacementRow = db!(self.conn, c => placement::table
            .find((school, id))
            .filter(placement::pupil_id.eq(pupil))
            .select(PlacementRow::as_select())
            .first(c))?;
        let answers =
            self.permit::<Read, _>(PupilChecks { round: row.round(), pupil, on: permit.resource().on })?;
        let responses = self.responses(&answers)?.into_iter().map(response_of).collect();
        let (round, check) = self.round_check(&answers, row.check_id)?;
        let version = self.version_row(row.version_id)?;
        Ok(PlacementView { row, round, check, version, responses })
    }

    /// Ends a placement check that goes on.
    ///
    /// # Errors
    /// If the store fails.
    pub fn end_placement(
        &mut self,
        _permit: &Permit<'tx, Record, PupilPlacements>,
        row: &PlacementRow,
    ) -> Result<(), Error> {
        self.about("pupil", row.pupil_id.uuid());
        let row = PlacementRow { ended_at: Some(self.now()), v: self.version, ..row.clone() };
        db!(self.conn, c => diesel::update(placement::table.find((row.school_id, row.id)))
            .set((placement::ended_at.eq(row.ended_at), placement::v.eq(row.v)))
            .execute(c))?;
        self.save_placement(&row)
    }
}

impl PlacementView {
    /// Whether it can be gone on with on a day.
    pub fn is_open(&self, on: Date) -> bool {
        self.row.ended_at.is_none() && on <= self.round.closes_on
    }
}
