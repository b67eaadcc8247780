//! Which line stands on which page.

use super::lay::{Item, MARGIN, SHEET, What};

/// An item's place on its page.
pub struct Placed<'a> {
    pub item: &'a Item,
    /// From the top of the sheet.
    pub y: f32,
    /// Whether it repeats what stands on an earlier page.
    pub again: bool,
}

/// Room for the foot of a page.
const FOOT: f32 = 16.0;

/// The pages: what is kept together stays together, and a table that goes on has its head again.
pub fn pages(items: &[Item]) -> Vec<Vec<Placed<'_>>> {
    let bottom = SHEET.1 - MARGIN - FOOT;
    let (mut pages, mut y) = (vec![Vec::new()], MARGIN);
    for together in items.chunk_by(|a, _| a.keep) {
        let height: f32 = together.iter().map(|item| item.height).sum();
        if y + height > bottom && y > MARGIN {
            pages.push(Vec::new());
            y = MARGIN;
            if let Some(head) = going_on(items, together) {
                place(&mut pages, head, &mut y, true);
            }
        }
        for item in together {
            place(&mut pages, item, &mut y, false);
        }
    }
    pages
}

fn place<'a>(pages: &mut [Vec<Placed<'a>>], item: &'a Item, y: &mut f32, again: bool) {
    if let Some(page) = pages.last_mut() {
        page.push(Placed { item, y: *y, again });
    }
    *y += item.height;
}

/// The head of the table that goes on with these items.
fn going_on<'a>(items: &'a [Item], together: &[Item]) -> Option<&'a Item> {
    let What::Row(table, row) = &together.first()?.what else { return None };
    let heads = |item: &&Item| matches!(&item.what, What::Row(of, head) if of == table && head.is_head());
    if row.is_head() { None } else { items.iter().find(heads) }
}
