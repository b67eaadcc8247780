//! Two records of one child made one, and taken apart again.

use std::collections::BTreeSet;

use diesel::prelude::*;
use plumbline_core::{
    access::{act::Manage, resource::Roster},
    id::{CatchUpId, PlacementId, PupilId, ResponseId},
    roster::{
        MergeError, Merging, Upn, Verdict, merge,
        optional::{SaidFields, either},
    },
    time::Instant,
};
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::{
    DecisionRow, DecisionView, Error, Permit, Tx,
    change::ChangeKind,
    conn::db,
    pupil_answering::Answering,
    pupil_as_one::{as_one, one_mark},
    pupil_before::PupilBefore,
    pupil_carried::Carried,
    pupil_decision::Kept,
    pupil_lessons::PupilMark,
    pupil_rounds::InRounds,
    pupil_statutory::StatutoryOf,
    roster_import::known,
    schema::{group_member, placement, pupil, pupil_upn, response},
    what_helped::Helped,
};

/// Everything that is on record of a pupil.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Whole {
    pupil: PupilBefore,
    search_key: String,
    created_at: Instant,
    upns: Vec<(Upn, Instant, Option<Instant>)>,
    marks: Vec<PupilMark>,
    #[serde(default)]
    catch_ups: Vec<CatchUpId>,
    answers: Vec<ResponseId>,
    #[serde(default)]
    placements: Vec<PlacementId>,
    #[serde(default)]
    in_rounds: InRounds,
    statutory: StatutoryOf,
    carried: Carried,
    #[serde(default)]
    fields: SaidFields,
    #[serde(default)]
    answering: Answering,
    #[serde(default)]
    what_helped: Option<Helped>,
}

/// What taking two records apart puts back.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Merged {
    kept: Whole,
    other: Whole,
    /// The record kept, as it was left.
    left: Whole,
}

impl Merged {
    /// Takes out what was said of a field; whether there was any.
    pub(super) fn without_field(&mut self, field: &str) -> bool {
        let of = [&mut self.kept, &mut self.other, &mut self.left];
        of.map(|whole| whole.fields.remove(field).is_some()).contains(&true)
    }
}

impl<'tx> Tx<'tx> {
    /// Makes two records one: what is on record under the other is the kept one's from now on, and
    /// the other is gone. The inner error says why it cannot be.
    ///
    /// # Errors
    /// [`Error::Missing`] if one of the two is no pupil of the school.
    pub fn merge_pupils(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        [kept, other]: [PupilId; 2],
        upn_of: Option<PupilId>,
    ) -> Result<Result<DecisionView, MergeError>, Error> {
        self.about("pupil", kept.uuid());
        let decisions = self.decided()?;
        let (mine, theirs) = (self.whole(kept)?, self.whole(other)?);
        let (one, two) = (self.merging(&mine)?, self.merging(&theirs)?);
        let out = match merge(&one, &two, upn_of, &decisions, self.now()) {
            Ok(out) => out,
            Err(error) => return Ok(Err(error)),
        };
        if self.results_differ(&mine.statutory, &theirs.statutory)? {
            return Ok(Err(MergeError::TwoResults));
        }
        self.log_whole(other, ChangeKind::Leave)?;
        for mark in &theirs.marks {
            let held = mine.marks.iter().find(|held| held.record == mark.record);
            self.set_mark(kept, mark.record, Some(&held.map_or(*mark, |held| one_mark(held, mark))))?;
            self.set_mark(other, mark.record, None)?;
        }
        self.rename_in_catch_ups(&theirs.catch_ups, [other, kept], &[])?;
        self.move_answers(&theirs, kept)?;
        self.set_carried(other, &Carried::default())?;
        self.set_carried(kept, &mine.carried.with(&theirs.carried))?;
        self.move_answering(&theirs.answering, kept)?;
        self.set_answering(other, &SaidFields::new())?;
        self.set_answering(kept, &either(&mine.answering.said, &theirs.answering.said))?;
        self.set_what_helped(other, None)?;
        // One line: the one written last.
        let lines = [&mine.what_helped, &theirs.what_helped].into_iter().flatten();
        self.set_what_helped(kept, lines.max_by_key(|line| line.v))?;
        self.leave_groups(&theirs)?;
        self.forget_pupils(&[other])?;
        self.save("pupil", other.uuid(), &[], &json!({"same_as": kept}))?;
        self.put_back(&[as_one(&mine.pupil, &theirs.pupil, &out)])?;
        self.set_upns(kept, &out.upns)?;
        self.set_said_of(kept, &either(&mine.fields, &theirs.fields))?;
        self.log_whole(kept, ChangeKind::Put)?;
        self.registers_changed(&theirs.marks.iter().map(|mark| mark.record).collect::<Vec<_>>())?;
        self.catch_ups_changed(&theirs.catch_ups)?;
        let left = self.whole(kept)?;
        let before = Merged { kept: mine, other: theirs, left };
        let with = Kept { once: &two.row, before: &before };
        let row = self.insert_decision(Verdict::Same, [kept, other], Some(with))?;
        self.decision_view(row).map(Ok)
    }

    /// Takes two records apart that were made one. What was recorded since stays with the one kept.
    /// The inner error says what depends on their being one by now.
    ///
    /// # Errors
    /// [`Error::NotKept`] once the days in which it can be done are over, [`Error::Conflict`] or
    /// [`Error::Taken`] if a reference or UPN belongs to another pupil now.
    pub fn part_pupils(
        &mut self,
        _permit: &Permit<'tx, Manage, Roster>,
        row: &DecisionRow,
    ) -> Result<Result<(), Vec<&'static str>>, Error> {
        let (kept, other) = (row.pupil_id, row.other_id);
        self.about("pupil", kept.uuid());
        if row.undo_until.is_none_or(|last| last < self.today()) {
            return Err(Error::NotKept);
        }
        let before: Merged =
            row.before.clone().map(serde_json::from_value).transpose()?.ok_or(Error::NotKept)?;
        let depends = self.depends_on(kept, &before)?;
        if !depends.is_empty() {
            return Ok(Err(depends));
        }
        self.log_whole(kept, ChangeKind::Leave)?;
        self.insert_whole(&before.other)?;
        for mark in &before.other.marks {
            let held = before.kept.marks.iter().find(|held| held.record == mark.record);
            self.set_mark(kept, mark.record, held)?;
            self.set_mark(other, mark.record, Some(mark))?;
        }
        self.rename_in_catch_ups(&before.other.catch_ups, [kept, other], &before.kept.catch_ups)?;
        self.move_answers(&before.other, other)?;
        self.move_answering(&before.other.answering, other)?;
        self.set_upns(kept, &[])?;
        for whole in [&before.kept, &before.other] {
            self.put_back(std::slice::from_ref(&whole.pupil))?;
            self.set_upns(whole.pupil.id, &whole.upns)?;
            self.set_carried(whole.pupil.id, &whole.carried)?;
            self.set_said_of(whole.pupil.id, &whole.fields)?;
            self.set_answering(whole.pupil.id, &whole.answering.said)?;
            self.set_what_helped(whole.pupil.id, whole.what_helped.as_ref())?;
        }
        self.log_whole(kept, ChangeKind::Put)?;
        self.log_whole(other, ChangeKind::Put)?;
        self.registers_changed(&before.other.marks.iter().map(|mark| mark.record).collect::<Vec<_>>())?;
        self.catch_ups_changed(&before.other.catch_ups)?;
        self.drop_decision(row.id)?;
        Ok(Ok(()))
    }

    /// What was done since that takes the two for one child.
    fn depends_on(&mut self, kept: PupilId, before: &Merged) -> Result<Vec<&'static str>, Error> {
        let school = self.school();
        let now = match self.whole(kept) {
            Ok(now) => now,
            Err(Error::Missing) => return Ok(vec!["the record kept is itself merged; take that back first"]),
            Err(error) => return Err(error),
        };
        let left = &before.left;
        let of_both: BTreeSet<ResponseId> = left.answers.iter().copied().collect();
        let corrections: Vec<ResponseId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq(kept))
            .filter(response::corrects.is_not_null())
            .select(response::id)
            .load(c))?;
        let in_placements: Vec<ResponseId> = db!(self.conn, c => response::table
            .inner_join(placement::table.on(placement::school_id.eq(response::school_id)
                .and(placement::id.eq(response::round_id))))
            .filter(response::school_id.eq(school))
            .filter(placement::id.eq_any(&before.other.placements))
            .select(response::id)
            .load(c))?;
        let in_sittings: Vec<ResponseId> = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::sitting_id.eq_any(&before.other.in_rounds.sittings))
            .select(response::id)
            .load(c))?;
        let found = [
            (in_sittings.iter().any(|answer| !of_both.contains(answer)), "one of its sittings went on since"),
            (
                in_placements.iter().any(|answer| !of_both.contains(answer)),
                "one of its placement checks went on since",
            ),
            (
                before.other.statutory.went_on(&left.statutory, &now.statutory),
                "a result of the statutory check was entered since",
            ),
            (
                (&now.pupil, &now.upns, &now.fields) != (&left.pupil, &left.upns, &left.fields),
                "the pupil, its classes or its groups were changed since",
            ),
            (
                !left.marks.iter().all(|mark| now.marks.contains(mark)),
                "the register of one of its lessons was changed since",
            ),
            (now.answering.said != left.answering.said, "how the pupil answers was said anew since"),
            (now.what_helped != left.what_helped, "the line on what helped was written anew since"),
            (now.carried != left.carried, "what was carried in of it was changed since"),
            (
                corrections.iter().any(|answer| !of_both.contains(answer)),
                "one of its answers was corrected since",
            ),
        ];
        Ok(found.into_iter().filter(|(is_so, _)| *is_so).map(|(_, what)| what).collect())
    }

    fn merging(&mut self, whole: &Whole) -> Result<Merging, Error> {
        let id = whole.pupil.id;
        let row = self.pupil_row(id)?;
        let row = known(&row, whole.pupil.upn.as_ref(), None, None)?;
        Ok(Merging { id, row, left_on: whole.pupil.left_on, upns: whole.upns.clone() })
    }

    fn whole(&mut self, id: PupilId) -> Result<Whole, Error> {
        let school = self.school();
        let pupil = self.pupil_before(id, true)?;
        let (search_key, created_at) = db!(self.conn, c => pupil::table
            .find((school, id))
            .select((pupil::search_key, pupil::created_at))
            .first(c))?;
        let answers = db!(self.conn, c => response::table
            .filter(response::school_id.eq(school))
            .filter(response::pupil_id.eq(id))
            .order(response::id)
            .select(response::id)
            .load(c))?;
        let placements = db!(self.conn, c => placement::table
            .filter(placement::school_id.eq(school))
            .filter(placement::pupil_id.eq(id))
            .order(placement::id)
            .select(placement::id)
            .load(c))?;
        let (upns, marks) = (self.all_upns_of(id)?, self.marks_of(id)?);
        let (catch_ups, statutory) = (self.catch_ups_naming(id)?, self.statutory_of(id)?);
        let (carried, fields) = (self.carried_of_pupil(id)?, self.said_of(id)?);
        let answering = self.answering_whole(id)?;
        Ok(Whole {
            pupil,
            search_key,
            created_at,
            upns,
            marks,
            catch_ups,
            answers,
            placements,
            in_rounds: self.in_rounds(id)?,
            statutory,
            carried,
            fields,
            answering,
            what_helped: self.what_helped_of(&[id])?.pop().map(Helped::from),
        })
    }

    /// The bare row of a pupil who was gone.
    fn insert_whole(&mut self, whole: &Whole) -> Result<(), Error> {
        let (school, version) = (self.school(), self.version);
        let row = &whole.pupil;
        db!(self.conn, c => diesel::insert_into(pupil::table)
            .values((
                pupil::school_id.eq(school),
                pupil::id.eq(row.id),
                pupil::given_name.eq(&row.given_name),
                pupil::label.eq(&row.label),
                pupil::search_key.eq(&whole.search_key),
                pupil::v.eq(version),
                pupil::created_at.eq(whole.created_at),
            ))
            .execute(c))?;
        Ok(())
    }

    fn move_answers(&mut self, of: &Whole, to: PupilId) -> Result<(), Error> {
        let school = self.school();
        self.move_in_rounds(&of.in_rounds, to)?;
        for id in &of.placements {
            db!(self.conn, c => diesel::update(placement::table.find((school, id)))
                .set(placement::pupil_id.eq(to))
                .execute(c))?;
        }
        self.move_statutory(&of.statutory, to)?;
        for id in &of.answers {
            db!(self.conn, c => diesel::update(response::table.find((school, id)))
                .set(response::pupil_id.eq(to))
                .execute(c))?;
        }
        Ok(())
    }

    fn leave_groups(&mut self, whole: &Whole) -> Result<(), Error> {
        let (school, id) = (self.school(), whole.pupil.id);
        let left = whole.pupil.groups.iter().flatten().map(|(group, ..)| *group).collect::<Vec<_>>();
        for group in left {
            self.log_members(group, std::iter::once(id))?;
        }
        db!(self.conn, c => diesel::delete(group_member::table
            .filter(group_member::school_id.eq(school))
            .filter(group_member::pupil_id.eq(id)))
            .execute(c))?;
        Ok(())
    }

    /// Makes a pupil's numbers exactly these.
    fn set_upns(&mut self, id: PupilId, upns: &[(Upn, Instant, Option<Instant>)]) -> Result<(), Error> {
        let school = self.school();
        db!(self.conn, c => diesel::delete(pupil_upn::table
            .filter(pupil_upn::school_id.eq(school))
            .filter(pupil_upn::pupil_id.eq(id)))
            .execute(c))?;
        for (upn, since, until) in upns {
            db!(self.conn, c => diesel::insert_into(pupil_upn::table)
                .values((
                    pupil_upn::school_id.eq(school),
                    pupil_upn::pupil_id.eq(id),
                    pupil_upn::upn.eq(upn.as_str()),
                    pupil_upn::since.eq(since),
                    pupil_upn::until.eq(until),
                ))
                .execute(c))?;
        }
        Ok(())
    }
}
