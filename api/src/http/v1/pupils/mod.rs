//! Pupils.

pub mod books;
pub mod coverage;
pub mod create;
pub mod export;
pub mod get;
pub mod list;
pub mod practice;
pub mod update;

use std::collections::BTreeMap;

use plumbline_core::{
    id::{ClassId, GroupId, PupilId},
    roster::{Upn, distinguish},
    text::search_key,
    time::Date,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::store::{PupilRow, PupilView};

/// A pupil in a list.
#[derive(Clone, Serialize, ToSchema)]
#[schema(example = json!({"id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zoë Bell", "apart": null}))]
pub struct PupilLine {
    /// The pupil.
    pub id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// Where the list holds this name twice: what tells the two apart. Show it behind the name.
    pub apart: Option<String>,
}

/// What tells namesakes of a list apart without a day of birth, for a sheet that lies about: what it takes of
/// the label staff chose, the class and the given name; where that is not enough, how many there are, so that
/// somebody asks who is who.
pub fn apart_without_birthdays(pupils: &[(&PupilRow, Option<&String>)]) -> Vec<Option<String>> {
    let marks: Vec<_> = pupils
        .iter()
        .map(|(row, class)| {
            (row.shown_name(), [row.label.clone(), class.cloned(), Some(row.given_name.clone())])
        })
        .collect();
    let mut alike: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
    let mut apart = distinguish(&marks);
    for (n, mark) in apart.iter().enumerate() {
        let Some(mark) = mark else { continue };
        alike.entry((search_key(&marks[n].0), mark.clone())).or_default().push(n);
    }
    for bearers in alike.values().filter(|bearers| bearers.len() > 1) {
        for n in bearers {
            apart[*n] = Some(format!("one of {} of this name", bearers.len()));
        }
    }
    apart
}

/// Lines of a list of pupils with their classes, namesakes told apart.
pub fn lines(pupils: Vec<(PupilRow, Option<String>)>) -> Vec<PupilLine> {
    let marks: Vec<_> = pupils
        .iter()
        .map(|(row, class)| {
            let born = |part: &str| row.date_of_birth.map(|born| born.format(part).to_string());
            (row.shown_name(), [row.label.clone(), class.clone(), born("%-d %B"), born("%Y")])
        })
        .collect();
    let apart = distinguish(&marks);
    pupils
        .into_iter()
        .zip(apart)
        .map(|((row, _), apart)| PupilLine { id: row.id, name: row.shown_name(), apart })
        .collect()
}

/// A class or group a pupil is in.
#[derive(Serialize, ToSchema)]
pub struct Named<I> {
    /// Its id.
    pub id: I,
    /// Its name.
    pub name: String,
}

/// A pupil's page: who it is and where. What was learned has its own page and its own rules.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "id": "0199f2c4-0000-7000-8000-000000000007", "name": "Zo Bell", "given_name": "Zoë", "family_name": "Bell",
    "preferred_name": "Zo", "label": null, "pupil_ref": "A1043", "upn": "••••••••••001", "date_of_birth": "2020-05-31", "left_on": null,
    "year_group": "year_1", "classes": [{"id": "0199f2c4-0000-7000-8000-000000000006", "name": "Alder"}],
    "groups": [{"id": "0199f2c4-0000-7000-8000-000000000008", "name": "Alder"}]
}))]
pub struct PupilBody {
    /// The pupil.
    pub id: PupilId,
    /// The name the pupil is called by.
    pub name: String,
    /// First name; null where only a family name is known.
    pub given_name: Option<String>,
    /// Family name.
    pub family_name: Option<String>,
    /// Preferred first name.
    pub preferred_name: Option<String>,
    /// What staff chose to tell namesakes apart.
    pub label: Option<String>,
    /// The school's reference. Never told to a cover teacher, like the two below.
    pub pupil_ref: Option<String>,
    /// The end of the unique pupil number, the rest masked.
    pub upn: Option<String>,
    /// Date of birth.
    pub date_of_birth: Option<Date>,
    /// The last day here.
    pub left_on: Option<Date>,
    /// Code of the year group.
    pub year_group: Option<String>,
    /// Classes today.
    pub classes: Vec<Named<ClassId>>,
    /// Groups today.
    pub groups: Vec<Named<GroupId>>,
}

impl PupilBody {
    /// The same without what identifies the pupil beyond the name.
    #[must_use]
    pub fn by_name(self) -> Self {
        Self { pupil_ref: None, upn: None, date_of_birth: None, ..self }
    }
}

impl From<PupilView> for PupilBody {
    fn from(view: PupilView) -> Self {
        let name = view.row.shown_name();
        Self {
            id: view.row.id,
            name,
            given_name: Some(view.row.given_name).filter(|name| !name.is_empty()),
            family_name: view.row.family_name,
            preferred_name: view.row.preferred_name,
            label: view.row.label,
            pupil_ref: view.row.pupil_ref,
            upn: view.upn.as_ref().map(Upn::masked),
            date_of_birth: view.row.date_of_birth,
            left_on: view.row.left_on,
            year_group: view.year_group,
            classes: view.classes.into_iter().map(|(id, name)| Named { id, name }).collect(),
            groups: view.groups.into_iter().map(|(id, name)| Named { id, name }).collect(),
        }
    }
}
