//! Text in lines: shaped, joined and broken by the font's and the script's rules.

use std::{borrow::Cow, collections::HashMap, sync::Arc};

use krilla::{
    geom::Point,
    paint::Fill,
    surface::Surface,
    text::{Font, GlyphId, KrillaGlyph},
};
use parley::{
    Alignment, AlignmentOptions, FontContext, FontFamily, FontFamilyName, FontWeight, Layout, LayoutContext,
    LineHeight, OverflowWrap, StyleProperty,
    fontique::{Blob, Collection, CollectionOptions, SourceCache},
};

/// The fonts there are. `api/fonts/README.md` says what is in them and how they are made.
const FONTS: [&[u8]; 4] = [
    include_bytes!("../../../fonts/NotoSans-Regular.ttf"),
    include_bytes!("../../../fonts/NotoSans-Bold.ttf"),
    include_bytes!("../../../fonts/NotoSansArabic-Regular.ttf"),
    include_bytes!("../../../fonts/NotoSansArabic-Bold.ttf"),
];
const FAMILIES: &[FontFamilyName<'static>] = &[
    FontFamilyName::Named(Cow::Borrowed("Noto Sans")),
    FontFamilyName::Named(Cow::Borrowed("Noto Sans Arabic")),
];

/// Stands for a letter that no font here has.
pub const NO_LETTER: char = '\u{fffd}';

/// How a text looks.
#[derive(Clone, Copy, Debug)]
pub struct Style {
    /// In points.
    pub size: f32,
    /// Whether it is bold.
    pub bold: bool,
    /// Whether its lines end at the right.
    pub right: bool,
}

/// A text in lines.
pub struct Set {
    text: String,
    layout: Layout<()>,
}

impl Set {
    /// How wide its longest line is, in points.
    pub fn width(&self) -> f32 {
        self.layout.width()
    }

    /// How high it is, in points.
    pub fn height(&self) -> f32 {
        self.layout.height()
    }
}

/// Sets texts.
pub struct Setter {
    fonts: FontContext,
    layouts: LayoutContext<()>,
    /// Whether [`NO_LETTER`] stands anywhere.
    pub misses: bool,
}

impl Setter {
    pub fn new() -> Self {
        let options = CollectionOptions { shared: false, system_fonts: false };
        let mut collection = Collection::new(options);
        for font in FONTS {
            collection.register_fonts(Blob::new(Arc::new(font)), None);
        }
        let fonts = FontContext { collection, source_cache: SourceCache::default() };
        Self { fonts, layouts: LayoutContext::new(), misses: false }
    }

    /// Sets a text in lines of at most this width, in points. A word that is longer is broken.
    pub fn set(&mut self, text: &str, style: Style, width: f32) -> Set {
        let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let set = self.lay(text, style, width);
        let missing = missing(&set);
        if missing.is_empty() {
            return set;
        }
        self.misses = true;
        let known = |(place, c): (usize, char)| match missing.iter().any(|range| range.contains(&place)) {
            true => NO_LETTER,
            false => c,
        };
        let text = set.text.char_indices().map(known).collect();
        self.lay(text, style, width)
    }

    fn lay(&mut self, text: String, style: Style, width: f32) -> Set {
        let mut builder = self.layouts.ranged_builder(&mut self.fonts, &text, 1.0, false);
        builder.push_default(FontFamily::List(Cow::Borrowed(FAMILIES)));
        builder.push_default(StyleProperty::FontSize(style.size));
        builder.push_default(LineHeight::FontSizeRelative(1.3));
        builder.push_default(StyleProperty::OverflowWrap(OverflowWrap::Anywhere));
        if style.bold {
            builder.push_default(StyleProperty::FontWeight(FontWeight::BOLD));
        }
        let mut layout = builder.build(&text);
        layout.break_all_lines(Some(width));
        // Names of every script stand in their column's place.
        let side = if style.right { Alignment::Right } else { Alignment::Left };
        layout.align(side, AlignmentOptions::default());
        Set { text, layout }
    }
}

/// Where no font has a letter.
fn missing(set: &Set) -> Vec<std::ops::Range<usize>> {
    let runs = set.layout.lines().flat_map(|line| line.runs().collect::<Vec<_>>());
    let ranges = runs.flat_map(|run| {
        let lacks = run.visual_clusters().filter(|one| one.glyphs().any(|glyph| glyph.id == 0));
        lacks.map(|one| one.text_range()).collect::<Vec<_>>()
    });
    ranges.collect()
}

/// Draws texts.
#[derive(Default)]
pub struct Pen {
    /// By the id of their data.
    fonts: HashMap<u64, Option<Font>>,
}

impl Pen {
    /// Draws a text whose upper left corner is here.
    pub fn draw(&mut self, surface: &mut Surface<'_>, set: &Set, x: f32, y: f32) {
        surface.set_fill(Some(Fill::default()));
        for line in set.layout.lines() {
            let metrics = line.metrics();
            let mut at = x + metrics.offset;
            for run in line.runs() {
                let (data, id) = run.font().data.clone().into_raw_parts();
                let index = run.font().index;
                let font = self.fonts.entry(id).or_insert_with(|| Font::new(data.into(), index));
                if let Some(font) = font.clone() {
                    let size = run.font_size();
                    let start = Point::from_xy(at, y + metrics.baseline);
                    surface.draw_glyphs(start, &glyphs(&run), font, &set.text, size, false);
                }
                at += run.advance();
            }
        }
    }
}

/// The glyphs of a run, each with the letters it stands for.
fn glyphs(run: &parley::Run<'_, ()>) -> Vec<KrillaGlyph> {
    let size = run.font_size();
    let mut glyphs: Vec<KrillaGlyph> = Vec::new();
    for cluster in run.visual_clusters() {
        let range = cluster.text_range();
        if cluster.is_ligature_continuation() {
            if let Some(last) = glyphs.last_mut() {
                last.text_range = last.text_range.start.min(range.start)..last.text_range.end.max(range.end);
            }
            continue;
        }
        glyphs.extend(cluster.glyphs().map(|glyph| {
            let id = GlyphId::new(glyph.id);
            let (x, y) = (glyph.x / size, glyph.y / size);
            KrillaGlyph::new(id, glyph.advance / size, x, y, 0.0, range.clone(), None)
        }));
    }
    glyphs
}
