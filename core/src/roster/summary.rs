//! What stays of an import when its rows are gone: numbers, and nobody.

use serde::{Deserialize, Serialize};

use super::{
    Plan,
    file::{Format, Sheet},
};

/// What a file was and what it came to, in numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ImportSummary))]
pub struct Summary {
    /// What the file is, by its content.
    pub format: Format,
    /// Pupils to add.
    pub created: usize,
    /// Pupils of whom the file says something else than the school holds.
    pub updated: usize,
    /// Pupils of whom the file only says more.
    pub completed: usize,
    /// Rows that say what the school holds already.
    pub unchanged: usize,
    /// Rows that wait for a person to say whom they are about.
    pub held: usize,
    /// Rows that say the same as an earlier one.
    pub repeats: usize,
    /// Rows a person left out.
    pub left_out: usize,
    /// Rows that are left out, because something is wrong with them.
    pub rejected: usize,
    /// Classes to add.
    pub new_classes: usize,
    /// Pupils who leave the school or a class.
    pub leavers: usize,
}

impl Summary {
    /// The numbers of a plan for a file.
    #[must_use]
    pub fn of(sheet: &Sheet, plan: &Plan) -> Self {
        Self {
            format: sheet.format,
            created: plan.created.len(),
            updated: plan.updated.len(),
            completed: plan.completed.len(),
            unchanged: plan.unchanged,
            held: plan.held.len(),
            repeats: plan.repeats.len(),
            left_out: plan.left_out.len(),
            rejected: plan.rejected.len(),
            new_classes: plan.new_classes.len(),
            leavers: plan.leavers.len() + plan.class_leavers.len(),
        }
    }
}
