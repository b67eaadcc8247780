//! GET /pupils/{id}/books

use actix_web::{get, web};
use plumbline_core::{
    access::{
        act::Read,
        resource::{Books, PupilLearning},
    },
    attainment::learner,
    book::{ShelfGap, shelf},
    id::{BookId, PupilId},
    time::Date,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::http::{
    caller::Caller,
    problem::{Code, Problem},
    problems::ReadProblems,
    query::Query,
    reply::Reply,
    words::school::SchoolEngine,
};

/// How many books.
#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PupilBooksQuery {
    /// At most how many, 1 to 500; 100 unless told.
    #[param(minimum = 1, maximum = 500)]
    pub limit: Option<usize>,
}

/// A book a pupil can read.
#[derive(Serialize, ToSchema)]
pub struct PupilBook {
    /// The book.
    pub id: BookId,
    /// Its title.
    pub title: String,
    /// The school's own code.
    pub reference: Option<String>,
    /// The day on which a lesson taught the last of what it needs; none where all of it was carried
    /// in from before the records here, or is secure by checks alone.
    pub since: Option<Date>,
    /// Whether correspondences that are secure are enough, with the exception words taught.
    pub secure: bool,
    /// Running words.
    pub running: usize,
    /// Of them readable, in per cent, rounded down.
    pub percent: Option<f64>,
}

/// The books a pupil can read.
#[derive(Serialize, ToSchema)]
#[schema(example = json!({
    "pupil_id": "0199f2c4-0000-7000-8000-000000000007", "readable_percent": 100, "taught": 9, "secure": 4,
    "books": 120, "total": 1, "items": [{"id": "0199f2c4-0000-7000-8000-000000000011", "title": "Mod and Dom",
        "reference": "A-017", "since": "2026-11-10", "secure": false, "running": 3, "percent": 100.0}], "empty": null
}))]
pub struct PupilBooks {
    /// The pupil.
    pub pupil_id: PupilId,
    /// The part of the running words, in per cent, with which a book counts as readable.
    pub readable_percent: u8,
    /// Correspondences counted as taught to this pupil. What was carried in for this pupil is one of
    /// them, what a lesson taught in the pupil's absence is not.
    pub taught: usize,
    /// Of them secure.
    pub secure: usize,
    /// Books of the school.
    pub books: usize,
    /// Of them readable.
    pub total: usize,
    /// The readable ones, what was taught last first, up to the limit.
    pub items: Vec<PupilBook>,
    /// Why there are none.
    pub empty: Option<ShelfGap>,
}

/// The reading books a pupil can read
///
/// By what this very pupil was taught and what is secure. The reading is written to the audit log
/// before the answer is sent.
#[utoipa::path(
    tag = "pupils", operation_id = "list_pupil_books",
    params(("id" = PupilId, Path, description = "The pupil"), PupilBooksQuery),
    responses((status = 200, description = "Readable books", body = PupilBooks), ReadProblems)
)]
#[get("/pupils/{id}/books")]
pub async fn list_pupil_books(
    caller: Caller,
    id: web::Path<PupilId>,
    query: Query<PupilBooksQuery>,
) -> Result<Reply, Problem> {
    let pupil = *id;
    let limit = query.limit.unwrap_or(100);
    if !(1..=500).contains(&limit) {
        return Err(Problem::field("limit", "must be 1 to 500"));
    }
    let SchoolEngine { engine, policy } = caller.words().await?;
    let (records, rows, counted, rules) = caller
        .read_logged("pupil.read_books", move |tx| {
            let permit = tx.permit::<Read, _>(PupilLearning(pupil))?;
            let records = tx.pupil_learning(&permit)?;
            let books = tx.permit::<Read, _>(Books)?;
            let rows = tx.all_books(&books)?;
            let counted = tx.counted_books(&books, &rows)?;
            Ok((records, rows, counted, tx.rules()?))
        })
        .await?;
    caller
        .compute(move || {
            let learner = learner(&engine, policy, &records, &rules.attainment.secure, 0);
            let counted: Vec<_> = counted.iter().collect();
            let percent = rules.books.readable_percent;
            let shelf = shelf(&engine, policy, &learner, &counted, percent).map_err(|error| {
                tracing::error!(%error, "a pupil's books");
                Problem::new(Code::Internal)
            })?;
            let items = shelf.iter().take(limit).filter_map(|book| {
                let row = rows.get(book.book)?;
                Some(PupilBook {
                    id: row.id,
                    title: row.title.clone(),
                    reference: row.reference.clone(),
                    since: book.since,
                    secure: book.secure,
                    running: book.running,
                    percent: book.percent,
                })
            });
            Reply::ok(&PupilBooks {
                pupil_id: pupil,
                readable_percent: percent,
                taught: learner.taught.len(),
                secure: learner.secure.len(),
                books: rows.len(),
                total: shelf.len(),
                items: items.collect(),
                empty: ShelfGap::of(&shelf, &learner, rows.len()),
            })
        })
        .await
}
