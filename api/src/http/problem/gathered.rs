//! What is wrong with a whole, gathered so that everything is named at once.

use std::collections::BTreeSet;

use super::{Code, FieldError, Problem};

/// Wrong fields of a whole.
#[derive(Default)]
pub struct Gathered {
    fields: Vec<FieldError>,
    /// Whether anything is wrong in itself, beside what stands in the way.
    in_itself: bool,
}

impl Gathered {
    /// A field that is wrong in itself.
    pub fn add(&mut self, field: String, message: &str) {
        self.fields.push(FieldError { field, message: message.to_owned() });
        self.in_itself = true;
    }

    /// What a part says of its fields, each put in its place in the whole.
    ///
    /// # Errors
    /// A problem of no field: nothing of the whole can stand.
    pub fn take(&mut self, problem: Problem, place: impl Fn(&str) -> String) -> Result<(), Problem> {
        if problem.errors().is_empty() {
            return Err(problem);
        }
        let placed = |one: &FieldError| FieldError { field: place(&one.field), message: one.message.clone() };
        self.fields.extend(problem.errors().iter().map(placed));
        self.in_itself |= problem.code() != Code::Conflict;
        Ok(())
    }

    /// What a decision answers; none where it refused, which is taken down.
    ///
    /// # Errors
    /// As [`Self::take`].
    pub fn of<T>(&mut self, decided: Result<T, Problem>) -> Result<Option<T>, Problem> {
        match decided {
            Ok(done) => Ok(Some(done)),
            Err(problem) => self.take(problem, str::to_owned).map(|()| None),
        }
    }

    /// Nothing, or everything once.
    ///
    /// # Errors
    /// `invalid`, or `conflict` where nothing is wrong in itself.
    pub fn none(self) -> Result<(), Problem> {
        if self.fields.is_empty() {
            return Ok(());
        }
        let mut met = BTreeSet::new();
        let once = self.fields.into_iter().filter(|one| met.insert((one.field.clone(), one.message.clone())));
        let problem = Problem::fields(once);
        Err(if self.in_itself { problem } else { problem.with_code(Code::Conflict) })
    }
}
