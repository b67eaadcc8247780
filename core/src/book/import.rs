//! What a file of books would change. All of it or nothing: one bad line and the file is refused.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use super::{Book, Reference};
use crate::{id::BookId, sequence::Fault, text::Title};

/// What a file would change, each with its line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ImportPlan {
    /// Books to add.
    pub added: Vec<(u64, Book)>,
    /// Books the file names that there are; [`ImportPlan::leave_unchanged`] takes out those it says
    /// nothing new of.
    pub changed: Vec<(u64, BookId, Book)>,
    /// Lines that say what the school holds already.
    pub unchanged: usize,
}

/// What tells a book that there is from the others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownBook {
    /// Its id.
    pub id: BookId,
    /// Its title.
    pub title: Title,
    /// The school's code.
    pub reference: Option<Reference>,
}

impl ImportPlan {
    /// Takes books that already are as the file has them out of those to change.
    pub fn leave_unchanged(&mut self, same: &BTreeSet<BookId>) {
        let named = self.changed.len();
        self.changed.retain(|(_, id, _)| !same.contains(id));
        self.unchanged += named - self.changed.len();
    }
}

/// What makes two spellings one title.
fn key(title: &Title) -> String {
    title.as_str().to_lowercase()
}

/// Matches the lines of a file with the books there are: by reference, else by title, whatever the
/// case. A line without a reference means the book of that title; one with an unknown reference
/// means the book of that title that has no reference yet, and gives it one. A line without a
/// reference takes none away. Books the file does not name stay as they are.
///
/// # Errors
/// Every line that names a book twice, or a title that several books have, as `line 7.title`.
pub fn plan_import(rows: &[(u64, Book)], known: &[KnownBook]) -> Result<ImportPlan, Vec<Fault>> {
    let (known, mut met) = (Known::new(known), Met::default());
    let (mut plan, mut faults) = (ImportPlan::default(), Vec::new());
    for (line, row) in rows {
        let found = known.meant_by(row).and_then(|found| met.once(*line, row, found).map(|()| found));
        match found {
            Err((field, message)) => faults.push(Fault { field: format!("line {line}.{field}"), message }),
            Ok(None) => plan.added.push((*line, row.clone())),
            Ok(Some(old)) => {
                let reference = row.reference.clone().or_else(|| old.reference.clone());
                plan.changed.push((*line, old.id, Book { reference, ..row.clone() }));
            }
        }
    }
    if faults.is_empty() { Ok(plan) } else { Err(faults) }
}

/// The column at fault, and what is wrong.
type Refusal = (&'static str, String);

/// The books there are.
struct Known<'a> {
    by_reference: BTreeMap<&'a Reference, &'a KnownBook>,
    by_title: BTreeMap<String, Vec<&'a KnownBook>>,
}

impl<'a> Known<'a> {
    fn new(books: &'a [KnownBook]) -> Self {
        let by_reference = books.iter().filter_map(|book| Some((book.reference.as_ref()?, book))).collect();
        let mut by_title: BTreeMap<String, Vec<_>> = BTreeMap::new();
        for book in books {
            by_title.entry(key(&book.title)).or_default().push(book);
        }
        Self { by_reference, by_title }
    }

    fn meant_by(&self, row: &Book) -> Result<Option<&'a KnownBook>, Refusal> {
        if let Some(found) = row.reference.as_ref().and_then(|reference| self.by_reference.get(reference)) {
            return Ok(Some(found));
        }
        let titled = self.by_title.get(&key(&row.title)).into_iter().flatten();
        let mut meant = titled.filter(|book| row.reference.is_none() || book.reference.is_none());
        match (meant.next(), meant.next()) {
            (Some(_), Some(_)) => {
                Err(("title", "belongs to several books: give the reference of one".into()))
            }
            (found, _) => Ok(found.copied()),
        }
    }
}

/// What earlier lines of the file meant, each with its line.
#[derive(Default)]
struct Met<'a> {
    books: BTreeMap<BookId, u64>,
    references: BTreeMap<&'a Reference, u64>,
    /// New books by title: any, and those without a reference.
    titles: BTreeMap<String, u64>,
    bare: BTreeMap<String, u64>,
}

impl<'a> Met<'a> {
    fn once(&mut self, line: u64, row: &'a Book, found: Option<&KnownBook>) -> Result<(), Refusal> {
        if let Some(reference) = &row.reference {
            match self.references.entry(reference) {
                Entry::Occupied(first) => {
                    return Err(("reference", format!("stands on line {} too", first.get())));
                }
                Entry::Vacant(place) => _ = place.insert(line),
            }
        }
        if let Some(known) = found {
            return match self.books.insert(known.id, line) {
                Some(first) => Err(("title", format!("means the book that line {first} means"))),
                None => Ok(()),
            };
        }
        let key = key(&row.title);
        let first = if row.reference.is_none() { self.titles.get(&key) } else { self.bare.get(&key) };
        if let Some(first) = first {
            return Err(("title", format!("stands on line {first} too: give each book its reference")));
        }
        if row.reference.is_none() {
            self.bare.insert(key.clone(), line);
        }
        self.titles.entry(key).or_insert(line);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::book::{BookText, Source};

    type Row<'a> = (&'a str, &'a str, &'a str);

    fn book((reference, title, text): &Row<'_>) -> Book {
        Book {
            title: Title::new(title).unwrap(),
            reference: Reference::new(reference).ok(),
            source: Source::Text,
            text: BookText::new(text).unwrap(),
        }
    }

    fn plan(rows: &[Row<'_>], there: &[Row<'_>]) -> Result<ImportPlan, Vec<Fault>> {
        let id = |n: usize| BookId::from_uuid(Uuid::from_u128(n as u128));
        let rows: Vec<(u64, Book)> = (2..).zip(rows.iter().map(book)).collect();
        let there: Vec<(BookId, Book)> =
            there.iter().enumerate().map(|(n, row)| (id(n), book(row))).collect();
        let known = |(id, book): &(BookId, Book)| KnownBook {
            id: *id,
            title: book.title.clone(),
            reference: book.reference.clone(),
        };
        let mut plan = plan_import(&rows, &there.iter().map(known).collect::<Vec<_>>())?;
        let same = plan.changed.iter().filter(|(_, id, new)| there.contains(&(*id, new.clone())));
        let same = same.map(|(_, id, _)| *id).collect();
        plan.leave_unchanged(&same);
        Ok(plan)
    }

    #[test]
    fn a_line_means_a_book_by_reference_else_by_title() {
        let there = [("A1", "Mod", "mod"), ("", "Dom", "dom")];
        // Counts of added, changed and unchanged.
        let check = |rows: &[Row<'_>], there: &[Row<'_>], expected: (usize, usize, usize)| {
            let plan = plan(rows, there).unwrap();
            assert_eq!((plan.added.len(), plan.changed.len(), plan.unchanged), expected, "{rows:?}");
        };
        check(&[("A1", "Mod", "mod"), ("", "Dom", "dom")], &there, (0, 0, 2));
        check(&[("A1", "Mod again", "mod")], &there, (0, 1, 0));
        check(&[("", "Mod", "mod")], &there, (0, 0, 1));
        check(&[("", "MOD", "mod")], &there, (0, 1, 0));
        check(&[("B2", "Dom", "dom")], &there, (0, 1, 0));
        check(&[("B2", "Mod", "mod")], &there, (1, 0, 0));
        check(&[("", "Ned", "ned")], &[], (1, 0, 0));
        check(&[("A1", "Mod", "mod"), ("B1", "Mod", "dom")], &[], (2, 0, 0));
    }

    #[test]
    fn a_change_keeps_the_reference_and_names_the_book() {
        let plan = plan(&[("", "Mod", "dom")], &[("", "Dom", "x"), ("A1", "Mod", "mod")]).unwrap();
        let (line, id, new) = &plan.changed[0];
        assert_eq!((*line, id.uuid().as_u128(), new.text.as_str()), (2, 1, "dom"));
        assert_eq!(new.reference, Reference::new("A1").ok());
    }

    #[test]
    fn what_means_two_things_is_named_by_its_line() {
        let check = |rows: &[Row<'_>], there: &[Row<'_>], expected: &str| {
            let faults = plan(rows, there).unwrap_err();
            let said: Vec<String> = faults.iter().map(|f| format!("{}: {}", f.field, f.message)).collect();
            assert_eq!(said, [expected], "{rows:?}");
        };
        let twice = "line 3.title: stands on line 2 too: give each book its reference";
        check(&[("", "Mod", "mod"), ("", "mod", "dom")], &[], twice);
        check(&[("A1", "Mod", "mod"), ("", "Mod", "dom")], &[], twice);
        check(&[("", "Mod", "mod"), ("A1", "Mod", "dom")], &[], twice);
        let reference = "line 3.reference: stands on line 2 too";
        check(&[("A1", "Mod", "mod"), ("A1", "Dom", "dom")], &[], reference);
        // The second would take the reference that the first gives to the book that is there.
        check(&[("A1", "Mod", "mod"), ("A1", "Dom", "dom")], &[("", "Mod", "mod")], reference);
        let several = "line 2.title: belongs to several books: give the reference of one";
        check(&[("", "Mod", "mod")], &[("A1", "Mod", "mod"), ("B1", "Mod", "mod")], several);
        let same = "line 3.title: means the book that line 2 means";
        check(&[("A1", "Mod", "mod"), ("", "Mod", "dom")], &[("A1", "Mod", "mod")], same);
    }

    #[test]
    fn every_bad_line_is_named() {
        let rows = [("", "Mod", "mod"), ("", "Mod", "mod"), ("", "Dom", "dom"), ("", "Mod", "mod")];
        let lines: Vec<String> = plan(&rows, &[]).unwrap_err().into_iter().map(|fault| fault.field).collect();
        assert_eq!(lines, ["line 3.title", "line 5.title"]);
    }
}
