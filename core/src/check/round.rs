//! A round of checks: its days, whom it is for, who checks whom, and how far each pupil is.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::{
    id::{ClassId, GroupId, PupilId, StaffId},
    time::Date,
};

/// Whom a round is for: whoever is in one of the classes or groups, or is named.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Whom {
    /// Classes.
    #[serde(default)]
    pub class_ids: Vec<ClassId>,
    /// Groups.
    #[serde(default)]
    pub group_ids: Vec<GroupId>,
    /// Pupils.
    #[serde(default)]
    pub pupil_ids: Vec<PupilId>,
}

/// Who checks the pupils of a class, of a group, or one pupil. It gives no right: whoever may see a pupil's
/// checks may check.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Checker {
    /// The adult.
    pub staff_id: StaffId,
    /// Of this class, or
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_id: Option<ClassId>,
    /// of this group, or
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group_id: Option<GroupId>,
    /// this pupil.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pupil_id: Option<PupilId>,
}

/// Whom a round is for and who checks whom.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoundPlan {
    /// Whom it is for; none for everybody.
    #[serde(default)]
    pub whom: Option<Whom>,
    /// Who checks whom.
    #[serde(default)]
    pub checkers: Vec<Checker>,
}

/// First and last day of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dates {
    /// First day.
    pub opens_on: Date,
    /// Last day.
    pub closes_on: Date,
}

/// Where a pupil is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Places {
    /// Classes.
    pub classes: BTreeSet<ClassId>,
    /// Groups.
    pub groups: BTreeSet<GroupId>,
}

/// Why a round cannot be as asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RoundError {
    /// Its last day comes before its first.
    #[error("lies before the round opens")]
    Reversed,
    /// Answers would be of no day of the round.
    #[error("would leave answers outside the round, given before it opens: {0}")]
    LeavesBefore(usize),
    /// Answers would be of no day of the round.
    #[error("would leave answers outside the round, given after it closes: {0}")]
    LeavesAfter(usize),
    /// A closed round stays as it is.
    #[error("the round is closed: say a later last day to open it again")]
    Closed,
    /// Nobody is named.
    #[error("names nobody: leave it out, and the round is for everybody")]
    Nobody,
    /// More than anybody enters by hand.
    #[error("names too many: at most {MOST}")]
    TooMany(&'static str),
    /// Not exactly one of class, group and pupil.
    #[error("name a class, a group or a pupil, and one of them only")]
    OfOne(usize),
    /// The same line again.
    #[error("stands twice")]
    Twice(usize),
}

impl RoundError {
    /// The field at fault.
    pub fn field(&self) -> String {
        match self {
            Self::Reversed | Self::LeavesAfter(_) => "closes_on".into(),
            Self::LeavesBefore(_) => "opens_on".into(),
            Self::Closed => "checkers".into(),
            Self::Nobody => "whom".into(),
            Self::TooMany(field) => (*field).into(),
            Self::OfOne(n) | Self::Twice(n) => format!("checkers[{n}]"),
        }
    }
}

/// Names in one list, at most.
const MOST: usize = 500;

impl Dates {
    /// Checks days, with the days of the answers there are.
    ///
    /// # Errors
    /// [`RoundError::Reversed`], or how many answers would be outside.
    pub fn check(&self, answers: &[(Date, usize)]) -> Result<(), RoundError> {
        if self.closes_on < self.opens_on {
            return Err(RoundError::Reversed);
        }
        let sum = |of: &dyn Fn(Date) -> bool| -> usize {
            answers.iter().filter(|(day, _)| of(*day)).map(|(_, count)| count).sum()
        };
        match (sum(&|day| day < self.opens_on), sum(&|day| day > self.closes_on)) {
            (0, 0) => Ok(()),
            (0, after) => Err(RoundError::LeavesAfter(after)),
            (before, _) => Err(RoundError::LeavesBefore(before)),
        }
    }
}

impl RoundPlan {
    /// Checks the lists themselves; whether what they name is there is for the store to say.
    ///
    /// # Errors
    /// The first line that cannot stand.
    pub fn check(&self) -> Result<(), RoundError> {
        if let Some(whom) = &self.whom {
            match whom.class_ids.len() + whom.group_ids.len() + whom.pupil_ids.len() {
                0 => return Err(RoundError::Nobody),
                1..=MOST => {}
                _ => return Err(RoundError::TooMany("whom")),
            }
        }
        if self.checkers.len() > MOST {
            return Err(RoundError::TooMany("checkers"));
        }
        for (n, one) in self.checkers.iter().enumerate() {
            let named = [one.class_id.is_some(), one.group_id.is_some(), one.pupil_id.is_some()];
            if named.iter().filter(|named| **named).count() != 1 {
                return Err(RoundError::OfOne(n));
            }
            if self.checkers[..n].contains(one) {
                return Err(RoundError::Twice(n));
            }
        }
        Ok(())
    }

    /// Whether the round is for a pupil.
    pub fn is_for(&self, pupil: PupilId, at: &Places) -> bool {
        self.whom.as_ref().is_none_or(|whom| {
            whom.pupil_ids.contains(&pupil)
                || whom.class_ids.iter().any(|class| at.classes.contains(class))
                || whom.group_ids.iter().any(|group| at.groups.contains(group))
        })
    }

    /// Who is to check a pupil: who was named for the pupil; else for one of its groups; else for its class.
    pub fn checkers_of(&self, pupil: PupilId, at: &Places) -> BTreeSet<StaffId> {
        let named = |is: &dyn Fn(&Checker) -> bool| -> BTreeSet<StaffId> {
            self.checkers.iter().filter(|one| is(one)).map(|one| one.staff_id).collect()
        };
        let by = [
            named(&|one| one.pupil_id == Some(pupil)),
            named(&|one| one.group_id.is_some_and(|group| at.groups.contains(&group))),
            named(&|one| one.class_id.is_some_and(|class| at.classes.contains(&class))),
        ];
        by.into_iter().find(|staff| !staff.is_empty()).unwrap_or_default()
    }

    /// Whether a pupil is named by itself.
    pub fn names_pupils(&self) -> bool {
        self.whom.as_ref().is_some_and(|whom| !whom.pupil_ids.is_empty())
            || self.checkers.iter().any(|one| one.pupil_id.is_some())
    }

    /// Names every pupil by the record there is now.
    pub fn rename(&mut self, now: impl Fn(PupilId) -> PupilId) {
        if let Some(whom) = &mut self.whom {
            whom.pupil_ids.iter_mut().for_each(|pupil| *pupil = now(*pupil));
        }
        self.checkers.iter_mut().for_each(|one| one.pupil_id = one.pupil_id.map(&now));
    }
}

crate::vocabulary! {
    /// How far a pupil is with a check.
    pub enum Standing as "CheckStanding" {
        /// Nothing was asked yet.
        LeftToDo = "left_to_do",
        /// Somebody has begun.
        UnderWay = "under_way",
        /// Every item was answered or left out, at least one of them answered; or a sitting with an answer was finished.
        Done = "done",
        /// Marked absent in today's lessons, and not done.
        AbsentToday = "absent_today",
        /// Not to be asked, for a reason that was given.
        Exempt = "exempt",
        /// Cannot be asked in this way.
        NotAccessible = "not_accessible",
    }
}

/// What is known of a pupil and a check.
#[derive(Clone, Copy, Debug, Default)]
pub struct Known {
    /// Items of the check.
    pub items: usize,
    /// Items that were answered or left out.
    pub settled: usize,
    /// Of these, items that were answered.
    pub answered: usize,
    /// A sitting was finished.
    pub finished: bool,
    /// A sitting goes on.
    pub begun: bool,
    /// The pupil is exempt.
    pub exempt: bool,
    /// The pupil cannot be asked in this way.
    pub not_accessible: bool,
    /// The pupil is marked absent today.
    pub absent: bool,
}

impl Known {
    /// How far the pupil is. What was done stays done; what goes on is not hidden by a day's absence alone. Where nothing
    /// was answered nothing was done, though a sitting was finished or every item left out.
    pub const fn standing(&self) -> Standing {
        let answered = self.answered > 0;
        if !self.begun && answered && (self.finished || self.settled >= self.items) {
            Standing::Done
        } else if self.exempt {
            Standing::Exempt
        } else if self.not_accessible {
            Standing::NotAccessible
        } else if self.absent {
            Standing::AbsentToday
        } else if self.begun || answered {
            Standing::UnderWay
        } else {
            Standing::LeftToDo
        }
    }
}

#[cfg(test)]
mod tests;
