//! What one school shows its trust of one release.

use serde::{Deserialize, Serialize};

use super::fingerprint::Fingerprint;
use crate::{
    disclosure::Audience,
    id::{ReportReleaseId, SchoolId},
    report::{By, Figure, Release},
    time::Date,
};

/// The figures, and what is needed to know what they can stand beside.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SharedFigures {
    /// The school.
    pub school_id: SchoolId,
    /// The release they are cut out of.
    pub release_id: ReportReleaseId,
    /// The calendar year in which the school year starts.
    pub school_year: i32,
    /// The sequences taught from in the school year, as fingerprints, each once.
    pub sequences: Vec<Fingerprint>,
    /// Of the release the whole school and its year groups, as told there.
    pub release: Release,
}

/// What leaves: the figures and what the school says of its sequence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(example = json!({
        "school_id": "0199f2c4-0000-7000-8000-000000000001", "release_id": "0199f2c4-0000-7000-8000-000000000032",
        "school_year": 2026, "sequences": ["0f6a1d1c4f2b8f0e9d3c5b7a6978695a4b3c2d1e0f1a2b3c4d5e6f708192a3b4"],
        "release": {
            "audience": "closed", "as_of": "2026-12-18", "school": "Farholt Infant School", "half_term": "Autumn 2",
            "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
            "versions": [{"version_id": "0199f2c4-0000-7000-8000-00000000000d", "sequence": "Our sequence", "number": 1}],
            "cautions": [], "symbols": [],
            "tables": [{"measure": "words", "name": "Words are read", "means": "At least 80 in 100 words were read right.", "rows": [
                {"by": null, "name": null, "symbol": null, "pupils": 50, "not_known": null, "met": 35,
                 "percent": {"percent": 70, "is": "about"}, "interval": [562, 809]}]}]
        },
        "maps_on": null
    })))]
pub struct Shared {
    /// The figures.
    #[serde(flatten)]
    pub figures: SharedFigures,
    /// On to which sequence the school's own maps, where it said so.
    pub maps_on: Option<MapsOn>,
}

/// A school's statement that its figures may stand beside those of schools with another sequence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MapsOn {
    /// The other sequence.
    pub fingerprint: Fingerprint,
    /// How the school's own maps on to it, in its words.
    pub why: String,
    /// Who said so.
    pub said_by: String,
    /// When.
    pub said_on: Date,
}

/// Why a release shows a trust nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("is for those who answer for the pupils, and stays with them")]
pub struct NotForTrust;

impl SharedFigures {
    /// Cuts them out of a release. Fewer of the figures its readers may see tell no more than those.
    ///
    /// # Errors
    /// For figures that are internal.
    pub fn cut(
        (school_id, release_id): (SchoolId, ReportReleaseId),
        mut release: Release,
        school_year: i32,
        mut sequences: Vec<Fingerprint>,
    ) -> Result<Self, NotForTrust> {
        if release.audience == Audience::Internal {
            return Err(NotForTrust);
        }
        for table in &mut release.tables {
            table.rows.retain(|row| matches!(row.by, None | Some(By::YearGroup)));
            // Notes name breakdowns that stay behind.
            table.notes.clear();
            for row in &mut table.rows {
                if let Some(symbol) = row.figure.symbol {
                    row.figure = Figure { symbol: Some(symbol), ..Figure::default() };
                }
            }
        }
        let stands = |code: &str| {
            let mut rows = release.tables.iter().flat_map(|table| &table.rows);
            rows.any(|row| row.figure.symbol.is_some_and(|symbol| symbol.as_str() == code))
        };
        release.symbols = release.symbols.iter().filter(|label| stands(&label.code)).cloned().collect();
        sequences.sort();
        sequences.dedup();
        Ok(Self { school_id, release_id, school_year, sequences, release })
    }
}

impl Shared {
    /// The same cut again: what comes from elsewhere may hold more than it should.
    ///
    /// # Errors
    /// For figures that are internal.
    pub fn cut_again(self) -> Result<Self, NotForTrust> {
        let SharedFigures { school_id, release_id, school_year, sequences, release } = self.figures;
        let figures = SharedFigures::cut((school_id, release_id), release, school_year, sequences)?;
        Ok(Self { figures, ..self })
    }

    /// The half term's name.
    #[must_use]
    pub fn half_term(&self) -> &str {
        &self.figures.release.basis.half_term
    }

    /// The sequence its figures are to be read under; none where there is no one.
    pub(super) fn reads_under(&self) -> Option<&Fingerprint> {
        match (&self.maps_on, self.figures.sequences.as_slice()) {
            (Some(said), [_, ..]) => Some(&said.fingerprint),
            (None, [one]) => Some(one),
            _ => None,
        }
    }
}
