//! Who is where, in the change log: pupils come into scopes and leave them with all that belongs to them.
//!
//! Places are dated, so a day can bring moves without a write. The log is therefore not kept place by place but made
//! to agree with the day: at the end of each write that touched places, and before the first pull of a day.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use plumbline_core::{
    id::{ClassId, GroupId, Id, PupilId},
    time::Date,
};
use uuid::Uuid;

use crate::store::{
    Error, Tx,
    change::{AnyId, ChangeKind, RecKind, Scope},
    conn::{db, held_on},
    pupils::BATCH,
    schema::{
        change, class_member, exemption, group_member, member_days, not_accessible, pupil_answering,
        response, school, sitting,
    },
};

/// Records, each with its pupil.
type OfPupils = Vec<(Uuid, PupilId)>;
/// Pupils by scope.
type Places = BTreeSet<(PupilId, Scope)>;

/// The id of the record of a pupil's days in a group.
pub(in crate::store) fn member_id(group: GroupId, pupil: PupilId) -> Uuid {
    Uuid::new_v5(&group.uuid(), pupil.uuid().as_bytes())
}

impl Tx<'_> {
    /// The scopes a pupil is in today.
    pub(in crate::store) fn scopes_of(&mut self, pupil: PupilId) -> Result<Vec<Scope>, Error> {
        Ok(self.places_today(Some(pupil))?.into_iter().map(|(_, scope)| scope).collect())
    }

    /// Logs a pupil with all that belongs to it in its scopes of today: before and after records become one or two.
    pub(in crate::store) fn log_whole(&mut self, pupil: PupilId, what: ChangeKind) -> Result<(), Error> {
        let places = self.places_today(Some(pupil))?;
        self.move_all(&places, what)
    }

    /// Makes the change log say who is where today, with all that goes along, in this version.
    pub(in crate::store) fn settle_places(&mut self) -> Result<(), Error> {
        let (now, logged, before) =
            (self.places_today(None)?, self.places_logged()?, self.places_settled_on()?);
        let (come, gone): (Places, Places) =
            (now.difference(&logged).copied().collect(), logged.difference(&now).copied().collect());
        self.move_all(&gone, ChangeKind::Leave)?;
        self.move_all(&come, ChangeKind::Put)?;
        if let Some(before) = before.filter(|before| *before < self.today()) {
            self.log_begun(&now, before)?;
        }
        let (id, today) = (self.school(), self.today());
        db!(self.conn, c => diesel::update(school::table.find(id))
            .set(school::places_on.eq(Some(today)))
            .execute(c))?;
        Ok(())
    }

    /// Logs anew what says something else by today than on a day before, without anybody having changed it: it is said
    /// from a day on, and devices are given what holds on the day.
    fn log_begun(&mut self, places: &Places, before: Date) -> Result<(), Error> {
        let (school, today) = (self.school(), self.today());
        let weekdays: Vec<(GroupId, PupilId)> = db!(self.conn, c => member_days::table
            .filter(member_days::school_id.eq(school))
            .filter(member_days::from_on.gt(before).and(member_days::from_on.le(today)))
            .select((member_days::group_id, member_days::pupil_id))
            .load(c))?;
        let there = |(group, pupil): &(GroupId, PupilId)| places.contains(&(*pupil, Scope::Group(*group)));
        let members = weekdays.into_iter().filter(there);
        let members = members.map(|(group, pupil)| (member_id(group, pupil), Scope::Group(group)));
        self.log_many("group_member", &members.collect::<Vec<_>>(), ChangeKind::Put)?;
        let said: Vec<PupilId> = db!(self.conn, c => pupil_answering::table
            .filter(pupil_answering::school_id.eq(school))
            .filter(pupil_answering::from_on.gt(before).and(pupil_answering::from_on.le(today)))
            .select(pupil_answering::pupil_id)
            .load(c))?;
        // What is not accessible holds up to its review day.
        let barred: Vec<PupilId> = db!(self.conn, c => not_accessible::table
            .filter(not_accessible::school_id.eq(school))
            .filter(not_accessible::from_on.gt(before).and(not_accessible::from_on.le(today))
                .or(not_accessible::review_on.ge(before).and(not_accessible::review_on.lt(today))))
            .select(not_accessible::pupil_id)
            .load(c))?;
        let answering: BTreeSet<PupilId> = said.into_iter().chain(barred).collect();
        let of = |pupils: Option<&BTreeSet<PupilId>>| -> Vec<(Uuid, Scope)> {
            let asked = |(pupil, _): &&(PupilId, Scope)| pupils.is_none_or(|pupils| pupils.contains(pupil));
            places.iter().filter(asked).map(|(pupil, scope)| (pupil.uuid(), *scope)).collect()
        };
        self.log_many("pupil_answering", &of(Some(&answering)), ChangeKind::Put)?;
        // In another school year everybody is of another year group.
        if self.school_year_of(before)? != self.school_year_of(today)? {
            self.log_many("pupil", &of(None), ChangeKind::Put)?;
        }
        Ok(())
    }

    /// Logs pupils, and what belongs to them, in scopes. Who leaves and comes again at once is not moved.
    fn move_all(&mut self, places: &Places, what: ChangeKind) -> Result<(), Error> {
        let pupils: Vec<PupilId> =
            places.iter().map(|(pupil, _)| *pupil).collect::<BTreeSet<_>>().into_iter().collect();
        let mut scopes: BTreeMap<PupilId, Vec<Scope>> = BTreeMap::new();
        for (pupil, scope) in places {
            scopes.entry(*pupil).or_default().push(*scope);
        }
        for batch in pupils.chunks(BATCH) {
            for (kind, records) in self.belongings(batch)? {
                let placed = |(id, pupil): (Uuid, PupilId)| {
                    let scopes = scopes.get(&pupil).into_iter().flatten();
                    scopes.map(move |scope| (id, *scope)).collect::<Vec<_>>()
                };
                self.log_many(kind, &records.into_iter().flat_map(placed).collect::<Vec<_>>(), what)?;
            }
        }
        let member = |(pupil, scope): &(PupilId, Scope)| match scope {
            Scope::Group(group) => Some((member_id(*group, *pupil), *scope)),
            Scope::Class(_) | Scope::School => None,
        };
        self.log_many("group_member", &places.iter().filter_map(member).collect::<Vec<_>>(), what)
    }

    /// What belongs to pupils: each kind's records, with the pupil of each.
    fn belongings(&mut self, pupils: &[PupilId]) -> Result<Vec<(RecKind, OfPupils)>, Error> {
        let school = self.school();
        macro_rules! of {
            ($table:ident) => {{
                let rows: Vec<(Id<_>, PupilId)> = db!(self.conn, c => $table::table
                    .filter($table::school_id.eq(school))
                    .filter($table::pupil_id.eq_any(pupils))
                    .select(($table::id, $table::pupil_id))
                    .load::<(AnyId, PupilId)>(c))?;
                rows.into_iter().map(|(id, pupil)| (id.uuid(), pupil)).collect::<Vec<_>>()
            }};
        }
        let said: Vec<PupilId> = db!(self.conn, c => pupil_answering::table
            .filter(pupil_answering::school_id.eq(school))
            .filter(pupil_answering::pupil_id.eq_any(pupils))
            .select(pupil_answering::pupil_id)
            .load(c))?;
        let answering: BTreeSet<PupilId> =
            said.into_iter().chain(of!(not_accessible).into_iter().map(|(_, pupil)| pupil)).collect();
        let own = |pupil: &PupilId| (pupil.uuid(), *pupil);
        Ok(vec![
            ("pupil", pupils.iter().map(own).collect()),
            ("pupil_answering", answering.iter().map(own).collect()),
            ("response", of!(response)),
            ("sitting", of!(sitting)),
            ("exemption", of!(exemption)),
        ])
    }

    /// Who is where today: one pupil, or all.
    fn places_today(&mut self, pupil: Option<PupilId>) -> Result<Places, Error> {
        let (school, today) = (self.school(), self.today());
        let (classes, groups) = db!(self.conn, c => {
            let mut classes = class_member::table
                .filter(class_member::school_id.eq(school))
                .filter(held_on!(class_member, today))
                .select((class_member::pupil_id, class_member::class_id))
                .into_boxed();
            let mut groups = group_member::table
                .filter(group_member::school_id.eq(school))
                .filter(held_on!(group_member, today))
                .select((group_member::pupil_id, group_member::group_id))
                .into_boxed();
            if let Some(pupil) = pupil {
                classes = classes.filter(class_member::pupil_id.eq(pupil));
                groups = groups.filter(group_member::pupil_id.eq(pupil));
            }
            (classes.load::<(PupilId, ClassId)>(c)?, groups.load::<(PupilId, GroupId)>(c)?)
        });
        let classes = classes.into_iter().map(|(pupil, class)| (pupil, Scope::Class(class)));
        Ok(classes.chain(groups.into_iter().map(|(pupil, group)| (pupil, Scope::Group(group)))).collect())
    }

    /// Who is where by the change log.
    fn places_logged(&mut self) -> Result<Places, Error> {
        let school = self.school();
        let rows: Vec<(String, AnyId, AnyId)> = db!(self.conn, c => change::table
            .filter(change::school_id.eq(school))
            .filter(change::rec_kind.eq("pupil"))
            .filter(change::kind.eq(ChangeKind::Put))
            .select((change::scope_kind, change::scope_id, change::rec_id))
            .load(c))?;
        let place = |(kind, scope, pupil): (String, AnyId, AnyId)| {
            Some((PupilId::from_uuid(pupil.uuid()), Scope::of(&kind, scope.uuid())?))
        };
        Ok(rows.into_iter().filter_map(place).collect())
    }
}
