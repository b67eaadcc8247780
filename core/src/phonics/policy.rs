//! What a school counts as taught: the flags on which phonics teaching differs.

use serde::{Deserialize, Serialize};

use super::accent::Accent;

/// A school's choices. Each flag says when a class that was taught one correspondence may be
/// expected to read another. [`Policy::default`] is tolerant for reading; [`Policy::exact`]
/// asks for every correspondence itself and suits words to spell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PhonicsPolicy, example = json!({
    "schwa_tolerance": true, "suffix_s_as_z": true, "th_split": false, "n_before_k_taught": false,
    "doubled": "together", "ed_together": true, "accent": {"short_a_in_bath": true}
})))]
pub struct Policy {
    /// An unstressed vowel counts as its full form: the e of *kitten* as e in *egg*, or of *doctor*
    /// as or in *fork*, el of *camel* as e and l. Not in one-syllable words (*the*, *a*).
    pub schwa_tolerance: bool,
    /// A suffix s sounded /z/ (*dogs*) needs only s as in *sun*.
    pub suffix_s_as_z: bool,
    /// The th of *this* and of *thin* are taught apart; otherwise either stands for both.
    pub th_split: bool,
    /// n before k (*pink*) is taught by itself; otherwise n as in *net* is enough.
    pub n_before_k_taught: bool,
    /// How doubled consonants other than ff, ll, ss, zz, ck are taught.
    pub doubled: Doubled,
    /// The three sounds of -ed are one unit.
    pub ed_together: bool,
    /// The accent of the class.
    pub accent: Accent,
}

/// How a school teaches bb, cc, dd, gg, mm, nn, pp, rr, tt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Doubled {
    /// As one idea: when one of them is taught, all are.
    #[default]
    Together,
    /// Each by itself.
    Separately,
    /// Not at all: whoever knows the single letter reads the double.
    WithSingle,
}

impl Default for Policy {
    fn default() -> Self {
        Self {
            schwa_tolerance: true,
            suffix_s_as_z: true,
            th_split: false,
            n_before_k_taught: false,
            doubled: Doubled::Together,
            ed_together: true,
            accent: Accent::default(),
        }
    }
}

impl Policy {
    /// No tolerance at all, in the same accent.
    #[must_use]
    pub fn exact(self) -> Self {
        Self {
            schwa_tolerance: false,
            suffix_s_as_z: false,
            th_split: true,
            n_before_k_taught: true,
            doubled: Doubled::Separately,
            ed_together: false,
            accent: self.accent,
        }
    }
}
