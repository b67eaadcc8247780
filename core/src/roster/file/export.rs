//! Pupils as a file again: the columns an import takes, formulas neutralised, and a last column
//! that says where, so that the import takes off only what was put on.

use crate::{
    roster::{Field, Row, Upn},
    rules::RulePack,
    spreadsheet::guarded,
};

/// The heading of the last column: the fields of the row whose cells were put behind an apostrophe,
/// separated by spaces.
pub const GUARDED: &str = "guarded";

/// A table of pupils, its header first. Unique pupil numbers, whole, only on request: otherwise there is no
/// such column. So it is with optional fields, which are those of the keys given, as codes. Days are written as
/// 2019-05-31, year groups by their names.
#[must_use]
pub fn export(rows: &[Row], upns: bool, optional: &[String], rules: &RulePack) -> Vec<Vec<String>> {
    let fields: Vec<Field> =
        Field::ALL.iter().copied().filter(|field| upns || *field != Field::Upn).collect();
    let optional_keys = optional.iter().map(String::as_str);
    let header =
        fields.iter().map(|field| field.as_str()).chain(optional_keys).chain([GUARDED]).map(str::to_owned);
    let line = |row: &Row| {
        let plain = |field: &Field| match field {
            Field::Upn => row.upn.as_ref().map(Upn::as_str).map(str::to_owned),
            Field::YearGroup => row
                .year_group
                .as_ref()
                .map(|code| rules.year_group(code).map_or_else(|| code.clone(), |year| year.name.clone())),
            other => row.cell(*other),
        };
        let plain: Vec<String> = fields.iter().map(|field| plain(field).unwrap_or_default()).collect();
        let mut cells: Vec<String> = plain.iter().map(|text| guarded(text)).collect();
        // Codes are never taken for formulas: a test of the packs sees to it.
        cells.extend(optional.iter().map(|key| row.optional.get(key).cloned().unwrap_or_default()));
        let marked = fields.iter().enumerate().filter(|(n, _)| plain[*n] != cells[*n]);
        cells.push(marked.map(|(_, field)| field.as_str()).collect::<Vec<_>>().join(" "));
        cells
    };
    std::iter::once(header.collect()).chain(rows.iter().map(line)).collect()
}

#[cfg(test)]
mod tests;
