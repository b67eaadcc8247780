//! A pupil as a file or the school has it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{
    Upn,
    file::{Beside, Cell},
    shown_name,
};
use crate::{
    text::{Name, search_key},
    time::Date,
};

crate::vocabulary! {
    /// A column of the file.
    pub enum Field {
        /// The school's own reference for the pupil.
        PupilRef = "pupil_ref",
        /// Unique pupil number.
        Upn = "upn",
        /// First name.
        GivenName = "given_name",
        /// Family name.
        FamilyName = "family_name",
        /// The name the pupil is called by.
        PreferredName = "preferred_name",
        /// Date of birth.
        DateOfBirth = "date_of_birth",
        /// Year group, in any of the rule pack's spellings.
        YearGroup = "year_group",
        /// Class.
        ClassName = "class_name",
    }
}

/// A row that was understood.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// Line in a text file or row in a workbook, counted from 1.
    pub line: u64,
    /// The how-manyeth pupil of the file, counted from 1.
    pub record: u64,
    /// The school's reference.
    pub pupil_ref: Option<String>,
    /// Unique pupil number.
    pub upn: Option<Upn>,
    /// First name. One of the two names is there, either may be the one.
    pub given_name: Option<Name>,
    /// Family name.
    pub family_name: Option<Name>,
    /// Name the pupil is called by.
    pub preferred_name: Option<Name>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// Year group as the file says, a code of the rule pack.
    pub year_group: Option<String>,
    /// Year group of the date of birth in the year the file is for.
    pub cohort: Option<String>,
    /// Class.
    pub class_name: Option<Name>,
    /// Optional fields by key, as codes of the rule pack; what is not recorded is not there.
    #[serde(default)]
    pub optional: BTreeMap<String, String>,
    /// What the line says beside.
    #[serde(default)]
    pub beside: Beside,
}

/// Something about a row that stops it, or that a person should know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = RowFinding))]
pub struct Finding {
    /// Line in a text file or row in a workbook, counted from 1.
    pub line: u64,
    /// The how-manyeth pupil of the file, counted from 1: lines and pupils part where a cell
    /// holds a line break.
    pub record: u64,
    /// The cell, as a spreadsheet names it.
    pub cell: Option<String>,
    /// The column, where one is at fault.
    pub field: Option<Field>,
    /// What, for a person.
    pub message: String,
    /// What was likely meant.
    pub suggest: Option<String>,
}

impl Row {
    /// What makes two names the same.
    pub(super) fn name_key(&self) -> (String, String) {
        let key = |name: &Option<Name>| name.as_ref().map(|n| search_key(n.as_str())).unwrap_or_default();
        (key(&self.given_name), key(&self.family_name))
    }

    /// The names and the reference as a file could say them: without what no reader of files sees.
    /// What the school holds is compared with a file like this, so that its own text never differs
    /// from itself.
    pub fn clean(&mut self) {
        let name = |name: &mut Option<Name>| {
            *name = name.take().and_then(|name| Name::new(&Cell::cleaned(name.as_str())).ok());
        };
        name(&mut self.given_name);
        name(&mut self.family_name);
        name(&mut self.preferred_name);
        self.pupil_ref = self.pupil_ref.take().map(|text| Cell::cleaned(&text));
    }

    /// A field as a person reads it; a UPN masked.
    #[must_use]
    pub fn cell(&self, field: Field) -> Option<String> {
        let name = |name: &Option<Name>| name.as_ref().map(|name| name.as_str().to_owned());
        match field {
            Field::PupilRef => self.pupil_ref.clone(),
            Field::Upn => self.upn.as_ref().map(Upn::masked),
            Field::GivenName => name(&self.given_name),
            Field::FamilyName => name(&self.family_name),
            Field::PreferredName => name(&self.preferred_name),
            Field::DateOfBirth => self.date_of_birth.map(|born| born.to_string()),
            Field::YearGroup => self.year_group.clone(),
            Field::ClassName => name(&self.class_name),
        }
    }

    /// The name as shown.
    #[must_use]
    pub fn shown_name(&self) -> String {
        let text = |name| Option::as_ref(name).map(Name::as_str);
        let given = text(&self.given_name).unwrap_or_default();
        shown_name(given, text(&self.family_name), text(&self.preferred_name))
    }
}
