//! One unit of a segmented word: a correspondence of the inventory, plus tags that say which
//! class of words the unit belongs to where accents or school policies differ.

use std::fmt;

/// The number of a correspondence in the [`super::inventory::Inventory`]. Not stable between
/// releases: store the text of the [`super::gpc::Gpc`] instead.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Debug)]
pub struct GpcId(pub(crate) u16);

impl GpcId {
    /// As an index into arrays of one entry a correspondence.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }
}

/// A class of words that accents or policies treat apart.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Debug)]
pub enum Tag {
    /// `a` that is long in the reference accent and short in others: *path*, *last*, *dance*.
    Bath,
    /// `oo` before k: *book*, *look*; long in some accents.
    Book,
    /// A vowel spelling with r whose r is sounded because a vowel follows: *story*, *during*.
    LinkingR,
    /// A suffix on a word that exists without it: *cats*, *dogs*.
    Suffix,
    /// An unstressed vowel of a word of several syllables: set on loading, from the stress digits.
    Weak,
}

impl Tag {
    /// Every tag with the letter that marks it in the lexicon file.
    pub const ALL: [(Self, char); 5] =
        [(Self::Bath, 'b'), (Self::Book, 'k'), (Self::LinkingR, 'r'), (Self::Suffix, 's'), (Self::Weak, 'w')];

    fn bit(self) -> u16 {
        match self {
            Self::Bath => 1 << 12,
            Self::Book => 1 << 13,
            Self::LinkingR => 1 << 14,
            Self::Suffix => 1 << 15,
            Self::Weak => 1 << 11,
        }
    }
}

/// Two bytes: the correspondence in the low eleven bits, the tags above.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Unit(u16);

impl Unit {
    /// The most correspondences an inventory may hold.
    pub const MAX_IDS: usize = 1 << 11;

    /// A unit without tags.
    #[must_use]
    pub fn new(id: GpcId) -> Self {
        Self(id.0)
    }

    /// The same unit with a tag.
    #[must_use]
    pub fn with(self, tag: Tag) -> Self {
        Self(self.0 | tag.bit())
    }

    /// Whether it carries the tag.
    #[must_use]
    pub fn has(self, tag: Tag) -> bool {
        self.0 & tag.bit() != 0
    }

    /// The whole as a number, for tables of [`Unit::TABLE`] entries.
    #[must_use]
    pub fn raw(self) -> usize {
        usize::from(self.0)
    }

    /// The number of entries of a table over all units with all tags.
    pub const TABLE: usize = 1 << 16;

    /// Every unit of a correspondence: with no tags, and with each set of them.
    pub fn all_of(id: GpcId) -> impl Iterator<Item = Self> {
        (0u16..32).map(move |tags| Self(id.0 | tags << 11))
    }

    /// The correspondence.
    #[must_use]
    pub fn id(self) -> GpcId {
        GpcId(self.0 & 0x07ff)
    }
}

impl fmt::Debug for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.id().0)?;
        for (tag, letter) in Tag::ALL {
            if self.has(tag) {
                write!(f, "'{letter}")?;
            }
        }
        Ok(())
    }
}
