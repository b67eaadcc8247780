//! Sequences in CSV (RFC 4180, UTF-8): a header row, then one row an item. What the
//! columns mean stands with [`COLUMNS`].

use plumbline_core::sequence::{
    Draft, Fault,
    exchange::csv::{COLUMNS, Cells, ReadDraft, read as read_rows, write as write_rows},
};

use super::csv_text::{self, check_width, columns, decode, table};

/// Most rows a file may hold: more than any draft.
const MOST_ROWS: usize = 50_000;

/// Writes a draft.
///
/// # Errors
/// If a row cannot be written, which memory rules out.
pub fn write(draft: &Draft) -> Result<String, std::io::Error> {
    let header = COLUMNS.map(str::to_owned);
    csv_text::write(std::iter::once(header).chain(write_rows(draft)))
}

/// Reads a draft. Columns may stand in any order; those that are missing count as empty.
///
/// # Errors
/// Every fault, its field being line and column.
pub fn read(bytes: &[u8]) -> Result<ReadDraft, Vec<Fault>> {
    let whole = |message: String| vec![Fault { field: "file".into(), message }];
    let (text, encoding) = decode(bytes);
    if encoding != "UTF-8" || text.contains('\0') {
        return Err(whole("is not text in UTF-8".into()));
    }
    let (header, found) = table(&text).map_err(|error| whole(error.to_string()))?;
    let header = header.ok_or_else(|| whole("is empty".into()))?;
    let header = header.map_err(|error| whole(error.to_string()))?;
    let at = |field: String, message: String| vec![Fault { field, message }];
    let columns =
        columns(&header, &COLUMNS, str::to_owned).map_err(|message| at("line 1".into(), message))?;
    let mut rows: Vec<(u64, Cells)> = Vec::new();
    for row in found {
        let (line, record) = row.map_err(|error| whole(error.to_string()))?;
        if rows.len() >= MOST_ROWS {
            return Err(whole(format!("holds more than {MOST_ROWS} rows")));
        }
        check_width(&record, columns.len()).map_err(|message| at(format!("line {line}"), message))?;
        let mut cells = Cells::default();
        for (column, cell) in columns.iter().zip(record.iter()) {
            cells[*column] = cell.to_owned();
        }
        rows.push((line, cells));
    }
    read_rows(&rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> Vec<String> {
        let faults = read(text.as_bytes()).unwrap_err();
        faults.into_iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect()
    }

    #[test]
    fn a_draft_survives_its_file() {
        let text = "lesson,lesson_title,step,step_title,kind,label\n1,\"=1, or \"\"2\"\"\",1,S,review,'tis\n\
                    2,M,1,S,,\n,,2,T,,\n";
        let draft = read(text.as_bytes()).unwrap().draft;
        assert_eq!((draft.steps.len(), draft.steps[0].lessons.len()), (2, 2));
        let written = write(&draft).unwrap();
        assert!(written.contains("\"'=1, or \"\"2\"\"\""), "{written}");
        assert_eq!(read(written.as_bytes()).unwrap().draft, draft);
        assert_eq!(read(write(&Draft::default()).unwrap().as_bytes()).unwrap().draft, Draft::default());
    }

    #[test]
    fn faults_name_line_and_column() {
        assert_eq!(faults(""), ["file: is empty"]);
        assert_eq!(faults("step,step\n"), ["line 1: column step stands twice"]);
        assert!(faults("step,colour\n")[0].starts_with("line 1: column 2 has a name unknown here"));
        assert_eq!(
            faults("step,step_title\r\n\r\n1,S\r\n1\r\n"),
            ["line 4: has 1 cells where the header has 2"]
        );
        assert_eq!(faults("step,step_title\n\"1\n"), ["file: a quote that opens on line 2 is never closed"]);
        assert_eq!(faults("step,step_title\nx,S\n"), ["line 2.step: must be a whole number from 1"]);
    }
}
