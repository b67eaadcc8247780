//! Releases: what left of a report, as it left, and the forms in which people read it.

pub mod compare;
pub mod export;
pub mod get;
pub mod list;
pub mod page;
pub mod print;
pub mod workbook;

use std::fmt::Display;

use plumbline_core::{
    access::{act::Read, resource::SchoolReport},
    id::ReportReleaseId,
    report::{Release, paper::Paper},
    rules::RulePack,
    text::slug,
};

use crate::http::{
    caller::Caller,
    problem::{Code, Problem},
    reply::File,
};

/// A release to make a form of: of its stored bytes alone, so that nothing leaves that was not released.
struct Kept {
    release: Release,
    rules: &'static RulePack,
}

impl Kept {
    /// Reads it.
    async fn read(caller: &Caller, id: ReportReleaseId) -> Result<Self, Problem> {
        let (body, rules) = caller
            .read(move |tx| {
                let permit = tx.permit::<Read, _>(SchoolReport)?;
                Ok((tx.release(&permit, id)?.body, tx.rules()?))
            })
            .await?;
        Ok(Self { release: serde_json::from_str(&body)?, rules })
    }

    /// What an optional field is called; its name is no part of a release.
    fn field(&self, code: &str) -> Option<String> {
        let known = self.rules.optional_fields.fields.iter().find(|field| field.field == code);
        known.map(|field| field.name.clone())
    }

    /// As it is read.
    fn paper(&self) -> Paper {
        Paper::of(&self.release, |code| self.field(code))
    }

    /// What a file of it is called: the school, the half term, whom it is for and of which day, and no name of anybody.
    fn file_name(&self, ending: &str) -> String {
        let Release { audience, as_of, basis, .. } = &self.release;
        let (school, half_term) = (slug(&basis.school), slug(&basis.half_term));
        let parts = [school, "phonics".to_owned(), half_term, audience.to_string(), as_of.to_string()];
        let told: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        format!("{}.{ending}", told.join("-"))
    }

    /// A file of it. Making one takes its time.
    async fn file<E: Display>(
        self,
        caller: &Caller,
        (media_type, ending): (&'static str, &str),
        write: impl FnOnce(&Self) -> Result<Vec<u8>, E> + Send + 'static,
    ) -> Result<File, Problem> {
        let name = self.file_name(ending);
        let made = move || {
            write(&self).map_err(|error| {
                tracing::error!(%error, media_type, "making a file of a release");
                Problem::new(Code::Internal)
            })
        };
        Ok(File { media_type, name, bytes: caller.compute(made).await? })
    }
}
