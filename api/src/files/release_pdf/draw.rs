//! Draws the pages, and says beside them what each part of them is: that is what is read out.

use std::num::{NonZeroU16, NonZeroU32};

use chrono::Datelike as _;
use krilla::{
    Document, SerializeSettings,
    color::luma,
    configure::{Accessibility, ConfigurationBuilder},
    destination::XyzDestination,
    geom::{PathBuilder, Point},
    metadata::{DateTime, Metadata},
    outline::{Outline, OutlineNode},
    page::PageSettings,
    paint::{Stroke, StrokeDash},
    surface::Surface,
    tagging::{
        Artifact, ArtifactType, ContentTag, SpanTag, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
    },
};
use plumbline_core::{report::paper::Paper, time::Date};

use super::{
    Unwritten,
    lay::{Cell, DRAWN, Drawn, Is, MARGIN, PAD, Row, SHEET, WIDTH, What},
    pages::Placed,
    text::{Pen, Set, Setter, Style},
};
use crate::files::chart::{Size, Strokes, strokes};

/// How high a bar is.
const BAR: f32 = 10.0;

/// Draws the pages of a release.
pub fn document(
    paper: &Paper,
    day: Date,
    pages: &[Vec<Placed<'_>>],
    setter: &mut Setter,
) -> Result<Vec<u8>, Unwritten> {
    let wrong = |what: &dyn std::fmt::Debug| Unwritten(format!("{what:?}"));
    let readable = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1);
    let configuration = readable.finish().map_err(|error| wrong(&error))?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    document.set_metadata(metadata(paper, day));
    let mut tags = Tags { tree: TagTree::new().with_lang(Some("en-GB".to_owned())), table: None };
    let (mut outline, mut pen) = (Outline::new(), Pen::default());
    for (number, page) in pages.iter().enumerate() {
        let sheet = PageSettings::from_wh(SHEET.0, SHEET.1).ok_or_else(|| wrong(&SHEET))?;
        let mut sheet = document.start_page_with(sheet);
        let mut surface = sheet.surface();
        for placed in page {
            if let What::Heading { text, .. } = &placed.item.what {
                let place = XyzDestination::new(number, Point::from_xy(MARGIN, placed.y));
                outline.push_child(OutlineNode::new(text.clone(), place));
            }
            put(&mut surface, &mut pen, placed, &mut tags);
        }
        let foot = format!(
            "{}. {} {} Page {} of {}",
            paper.title,
            paper.as_of,
            paper.readers,
            number + 1,
            pages.len()
        );
        let foot = setter.set(&foot, Style { size: 7.5, bold: false, right: false }, WIDTH);
        surface.start_tagged(aside(ArtifactType::Footer));
        pen.draw(&mut surface, &foot, MARGIN, SHEET.1 - MARGIN - foot.height());
        surface.end_tagged();
        surface.finish();
        sheet.finish();
    }
    tags.end_table();
    document.set_outline(outline);
    document.set_tag_tree(tags.tree);
    document.finish().map_err(|error| wrong(&error))
}

fn metadata(paper: &Paper, day: Date) -> Metadata {
    let part = |value: u32| u8::try_from(value).unwrap_or(1);
    let made = DateTime::new(u16::try_from(day.year()).unwrap_or(1900))
        .month(part(day.month()))
        .day(part(day.day()));
    Metadata::new().title(paper.title.clone()).language("en-GB".to_owned()).creation_date(made)
}

/// What is no content: read out nowhere.
fn aside(kind: ArtifactType) -> ContentTag<'static> {
    ContentTag::Artifact(Artifact::with_kind(kind))
}

/// What was drawn, in the order in which it is read out.
struct Tags {
    tree: TagTree,
    /// The table that is being drawn, by its number.
    table: Option<(usize, TagGroup)>,
}

impl Tags {
    fn row(&mut self, table: usize, row: TagGroup) {
        if self.table.as_ref().is_none_or(|(of, _)| *of != table) {
            self.end_table();
        }
        self.table.get_or_insert_with(|| (table, TagGroup::new(Tag::Table))).1.push(row);
    }

    fn other(&mut self, group: TagGroup) {
        self.end_table();
        self.tree.push(group);
    }

    fn end_table(&mut self) {
        if let Some((_, table)) = self.table.take() {
            self.tree.push(table);
        }
    }
}

fn put(surface: &mut Surface<'_>, pen: &mut Pen, placed: &Placed<'_>, tags: &mut Tags) {
    let y = placed.y;
    match &placed.item.what {
        What::Heading { level, text, set } => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            let mut group = TagGroup::new(Tag::Hn(level, Some(text.clone())));
            said(surface, pen, set, (MARGIN, y), &mut group);
            tags.other(group);
        }
        What::Paragraph(set) => {
            let mut group = TagGroup::new(Tag::P);
            said(surface, pen, set, (MARGIN, y), &mut group);
            tags.other(group);
        }
        What::Row(table, row) => {
            let height = row.text_height() + 2.0 * PAD;
            beside(surface, pen, row, y, height);
            if placed.again {
                surface.start_tagged(aside(ArtifactType::PaginationOther));
                for (x, set) in row.cells.iter().flat_map(|cell| &cell.texts) {
                    pen.draw(surface, set, MARGIN + x, y + PAD);
                }
                surface.end_tagged();
                return;
            }
            let mut group = TagGroup::new(Tag::TR);
            for cell in &row.cells {
                let mut tagged = TagGroup::new(tag_of(cell));
                for (x, set) in &cell.texts {
                    said(surface, pen, set, (MARGIN + x, y + PAD), &mut tagged);
                }
                group.push(tagged);
            }
            tags.row(*table, group);
        }
    }
}

fn tag_of(cell: &Cell) -> TagKind {
    let span = NonZeroU32::new(cell.span).filter(|span| span.get() > 1);
    match cell.is {
        Is::ColumnHead => Tag::TH(TableHeaderScope::Column).with_col_span(span).into(),
        Is::RowHead => Tag::TH(TableHeaderScope::Row).with_col_span(span).into(),
        Is::Figure => Tag::TD.with_col_span(span).into(),
    }
}

/// Draws a text that is read out.
fn said(surface: &mut Surface<'_>, pen: &mut Pen, set: &Set, (x, y): (f32, f32), group: &mut TagGroup) {
    let place = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
    pen.draw(surface, set, x, y);
    surface.end_tagged();
    group.push(place);
}

/// What stands beside the words of a row: its bar, which the words tell already, and the line below it.
fn beside(surface: &mut Surface<'_>, pen: &mut Pen, row: &Row, y: f32, height: f32) {
    let left = MARGIN + WIDTH - DRAWN;
    surface.start_tagged(aside(ArtifactType::Layout));
    match &row.drawn {
        Drawn::Nothing => {}
        Drawn::Axis(texts) => {
            for (x, set) in texts {
                pen.draw(surface, set, left + x, y + PAD);
            }
        }
        Drawn::Bar(bar) => {
            let top = y + (height - BAR) / 2.0;
            for drawn in strokes(bar, Size { width: DRAWN, height: BAR }) {
                stroke(surface, &drawn, left, top);
            }
        }
    }
    let width = if row.is_head() { 0.9 } else { 0.3 };
    let below = [0.0, height, WIDTH, height];
    stroke(surface, &Strokes { width, dashed: false, lines: vec![below] }, MARGIN, y);
    surface.end_tagged();
}

fn stroke(surface: &mut Surface<'_>, pen: &Strokes, x: f32, y: f32) {
    let mut path = PathBuilder::new();
    for [x1, y1, x2, y2] in &pen.lines {
        path.move_to(x + x1, y + y1);
        path.line_to(x + x2, y + y2);
    }
    let Some(path) = path.finish() else { return };
    let dash = pen.dashed.then(|| StrokeDash { array: vec![3.0, 2.0], offset: 0.0 });
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke {
        paint: luma::Color::black().into(),
        width: pen.width,
        dash,
        ..Stroke::default()
    }));
    surface.draw_path(&path);
    surface.set_stroke(None);
    surface.set_fill(None);
}
