//! What a draft holds and what stands against publishing it.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::{
    content::{Content, Gpc, ItemKind, Place},
    label,
};
use crate::id::ItemId;

crate::vocabulary! {
    /// How much a finding matters.
    pub enum Severity {
        /// The draft cannot be published with it.
        Fault = "fault",
        /// Worth a look; professional judgement decides.
        Advice = "advice",
    }
}

/// Something seen in a draft.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// Where, as in `steps[2].lessons[0].items[1]`.
    pub field: String,
    /// What, for a person.
    pub message: String,
}

/// How many items of one kind a draft teaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct KindCount {
    /// The kind.
    pub kind: ItemKind,
    /// How many.
    pub count: usize,
}

/// What a draft holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Analysis {
    /// Number of steps.
    pub steps: usize,
    /// Number of lessons: the teaching days it needs at one lesson a day.
    pub lessons: usize,
    /// Items by kind.
    pub items: Vec<KindCount>,
    /// Whether nothing stands against publishing.
    pub publishable: bool,
    /// What was seen, faults first.
    pub findings: Vec<Finding>,
}

/// Counts and checks a draft. A lesson with more new GPCs than `new_items_max`, a number of the
/// rule pack, is worth a look.
pub fn analyse(content: &Content, new_items_max: usize) -> Analysis {
    let mut findings = Findings(Vec::new());
    findings.emptiness(content);
    findings.repeats(content);
    findings.crowding(content, new_items_max);
    findings.early_reviews(content);
    findings.0.sort_by_key(|finding| finding.severity);
    let items = ItemKind::ALL
        .iter()
        .map(|kind| KindCount {
            kind: *kind,
            count: content.items().filter(|item| item.kind == *kind).count(),
        })
        .collect();
    Analysis {
        steps: content.steps.len(),
        lessons: content.lessons().count(),
        items,
        publishable: findings.0.iter().all(|finding| finding.severity != Severity::Fault),
        findings: findings.0,
    }
}

struct Findings(Vec<Finding>);

impl Findings {
    fn push(&mut self, severity: Severity, field: String, message: String) {
        self.0.push(Finding { severity, field, message });
    }

    fn emptiness(&mut self, content: &Content) {
        if content.steps.is_empty() {
            self.push(Severity::Fault, "steps".into(), "the sequence has no steps".into());
        }
        for (s, step) in content.steps.iter().enumerate() {
            if step.lessons.is_empty() {
                self.push(
                    Severity::Fault,
                    format!("steps[{s}].lessons"),
                    format!("step \"{}\" has no lessons", step.title),
                );
            }
            for (l, lesson) in step.lessons.iter().enumerate() {
                if lesson.items.is_empty() {
                    self.push(
                        Severity::Fault,
                        format!("steps[{s}].lessons[{l}].items"),
                        format!("lesson \"{}\" teaches nothing", lesson.title),
                    );
                }
            }
        }
    }

    /// The same GPC or exception word cannot be new twice: the two places contradict each
    /// other about when it is taught. Going back over it is an item of kind review.
    fn repeats(&mut self, content: &Content) {
        let mut by_id: BTreeMap<ItemId, String> = BTreeMap::new();
        let mut by_word: BTreeMap<String, String> = BTreeMap::new();
        for (place, _, lesson) in content.lessons() {
            for (n, item) in lesson.items.iter().enumerate() {
                let field = format!("steps[{}].lessons[{}].items[{n}]", place.step - 1, place.lesson - 1);
                let first = match item.kind {
                    ItemKind::Review => None,
                    ItemKind::ExceptionWord => {
                        by_word.insert(item.label.as_str().to_lowercase(), field.clone())
                    }
                    _ => by_id.insert(item.id, field.clone()),
                };
                if let Some(first) = first {
                    let message = format!(
                        "\"{}\" is already taught at {first}; use a review to go back to it",
                        item.label
                    );
                    self.push(Severity::Fault, field, message);
                }
            }
        }
    }

    /// A review of what is taught only in a later lesson.
    fn early_reviews(&mut self, content: &Content) {
        let first = FirstTaught::of(content);
        for (place, _, lesson) in content.lessons() {
            for (n, item) in lesson.items.iter().enumerate().filter(|(_, item)| item.kind == ItemKind::Review)
            {
                let later =
                    first.named(item.label.as_str()).into_iter().filter(|(_, taught)| *taught > place);
                for (named, taught) in later {
                    let field = format!("steps[{}].lessons[{}].items[{n}]", place.step - 1, place.lesson - 1);
                    let at = format!("steps[{}].lessons[{}]", taught.step - 1, taught.lesson - 1);
                    let message = format!("goes back to \"{named}\", which is first taught at {at}");
                    self.push(Severity::Advice, field, message);
                }
            }
        }
    }

    fn crowding(&mut self, content: &Content, most: usize) {
        for (place, _, lesson) in content.lessons() {
            let new = lesson.items.iter().filter(|item| item.kind == ItemKind::Gpc).count();
            if new > most {
                let field = format!("steps[{}].lessons[{}]", place.step - 1, place.lesson - 1);
                self.push(Severity::Advice, field, format!("lesson \"{}\" has {new} new GPCs", lesson.title));
            }
        }
    }
}

/// Where each thing is taught first.
struct FirstTaught {
    /// GPCs by grapheme and phoneme.
    pairs: BTreeMap<(String, String), Place>,
    /// All by label, GPCs by grapheme too: of `ow` the first of its GPCs.
    names: BTreeMap<String, Place>,
    /// Steps by title, with where their first lesson is.
    steps: Vec<(String, Place)>,
}

impl FirstTaught {
    fn of(content: &Content) -> Self {
        let mut first = Self { pairs: BTreeMap::new(), names: BTreeMap::new(), steps: Vec::new() };
        for (place, step, lesson) in content.lessons() {
            if place.lesson == 1 {
                first.steps.push((step.title.to_string(), place));
            }
            for item in lesson.items.iter().filter(|item| item.kind != ItemKind::Review) {
                first.names.entry(item.label.as_str().to_lowercase()).or_insert(place);
                if let Some(Gpc { grapheme, phoneme }) = &item.gpc {
                    first.names.entry(grapheme.to_lowercase()).or_insert(place);
                    first.pairs.entry((grapheme.to_lowercase(), phoneme.clone())).or_insert(place);
                }
            }
        }
        first
    }

    /// What the label of a review names, a person's own words: pairs, else steps it ends with the title of, else what is
    /// listed with commas. What is none of the sequence's is not judged.
    fn named(&self, label: &str) -> Vec<(String, Place)> {
        let pair = |(grapheme, phonemes): (String, &str)| {
            let place = *self.pairs.get(&(grapheme.clone(), phonemes.to_owned()))?;
            Some((format!("{grapheme} /{phonemes}/"), place))
        };
        let pairs: Vec<_> = label::pairs(label).into_iter().filter_map(pair).collect();
        if !pairs.is_empty() {
            return pairs;
        }
        let steps = self.steps.iter().filter(|(title, _)| label::ends_with(label, title));
        let steps: Vec<_> = steps.cloned().collect();
        if !steps.is_empty() {
            return steps;
        }
        let place = |name: &str| Some((name.to_owned(), *self.names.get(&name.to_lowercase())?));
        if let Some(whole) = place(label) {
            return vec![whole];
        }
        let mut seen = BTreeSet::new();
        let listed = label.split([',', ';']).map(str::trim);
        listed.filter(|name| seen.insert(name.to_lowercase())).filter_map(place).collect()
    }
}

#[cfg(test)]
mod tests {

    use super::*;
    use crate::{
        sequence::{Draft, settle},
        text::Title,
    };

    /// Steps separated by `/`, lessons by `;`, items by spaces: `m:m` a GPC, `+label` a
    /// review, anything else an exception word.
    fn content(sketch: &str) -> Content {
        let item = |text: &str| match (text.split_once(':'), text.strip_prefix('+')) {
            (Some((g, p)), _) => serde_json::json!({"kind": "gpc", "gpc": {"grapheme": g, "phoneme": p}}),
            (None, Some(label)) => serde_json::json!({"kind": "review", "label": label}),
            (None, None) => serde_json::json!({"kind": "exception_word", "label": text}),
        };
        let lesson = |text: &str| serde_json::json!({"title": "L", "items": text.split_whitespace().map(item).collect::<Vec<_>>()});
        let step = |text: &str| serde_json::json!({"title": "S", "lessons": text.split(';').map(lesson).collect::<Vec<_>>()});
        let steps: Vec<_> = sketch.split('/').filter(|s| !s.is_empty()).map(step).collect();
        let draft: Draft = serde_json::from_value(serde_json::json!({"steps": steps})).unwrap();
        let mut next = 0_u128;
        settle(draft, &crate::sequence::Known::default(), &mut || {
            next += 1;
            uuid::Uuid::from_u128(next)
        })
        .unwrap()
    }

    fn check(sketch: &str, expected: &[(Severity, &str)]) {
        let analysis = analyse(&content(sketch), 3);
        let found: Vec<_> = analysis.findings.iter().map(|f| (f.severity, f.field.as_str())).collect();
        assert_eq!(found, expected, "{sketch}");
        assert_eq!(analysis.publishable, !expected.iter().any(|(severity, _)| *severity == Severity::Fault));
    }

    #[test]
    fn a_sound_draft_has_no_findings() {
        check("m:m;o:ɒ/the d:d", &[]);
    }

    #[test]
    fn empty_places_are_faults() {
        check("", &[(Severity::Fault, "steps")]);
        check("m:m;", &[(Severity::Fault, "steps[0].lessons[1].items")]);
    }

    #[test]
    fn nothing_is_new_twice() {
        check("m:m/m:m", &[(Severity::Fault, "steps[1].lessons[0].items[0]")]);
        check("the/The", &[(Severity::Fault, "steps[1].lessons[0].items[0]")]);
        check("ow:aʊ/ow:əʊ", &[]);
        check("m:m/+m", &[]);
    }

    #[test]
    fn crowded_lessons_are_advice() {
        check("m:m o:ɒ d:d e:e", &[(Severity::Advice, "steps[0].lessons[0]")]);
        check("m:m o:ɒ d:d", &[]);
    }

    #[test]
    fn a_review_before_its_teaching_is_advice() {
        let advice = [(Severity::Advice, "steps[0].lessons[0].items[1]")];
        check("m:m +d;d:d", &advice);
        check("m:m +The/the", &advice);
        // In the lesson that teaches it, and after; of two ways to say ow, after the first; what names nothing here.
        check("m:m +m;d:d +m", &[]);
        check("ow:aʊ;+ow;ow:əʊ", &[]);
        check("m:m +everything;d:d", &[]);
        check("m:m +d,m,o;d:d;o:ɒ", &[advice[0], advice[0]]);
        let mut labelled = content("m:m +x;d:d/e:e");
        let mut said = |label: &str| {
            labelled.steps[0].lessons[0].items[1].label = Title::new(label).unwrap();
            labelled.steps[1].title = Title::new("Step 2").unwrap();
            let findings = analyse(&labelled, 3).findings;
            findings.into_iter().map(|finding| finding.message).collect::<Vec<_>>()
        };
        assert_eq!(said("d"), ["goes back to \"d\", which is first taught at steps[0].lessons[1]"]);
        // As proposals and schools write them.
        let d = "goes back to \"d /d/\", which is first taught at steps[0].lessons[1]";
        let e = "goes back to \"e /e/\", which is first taught at steps[1].lessons[0]";
        assert_eq!(said("review of m /m/, d /d/ and e /e/"), [d, e]);
        let step = "goes back to \"Step 2\", which is first taught at steps[1].lessons[0]";
        assert_eq!(said("review of Step 2"), [step]);
        assert_eq!(said("review of what is due"), Vec::<String>::new());
    }

    #[test]
    fn counts_are_by_kind() {
        let analysis = analyse(&content("m:m the;o:ɒ/+all"), 3);
        assert_eq!((analysis.steps, analysis.lessons), (2, 3));
        let count = |kind| analysis.items.iter().find(|c| c.kind == kind).map(|c| c.count);
        assert_eq!(count(ItemKind::Gpc), Some(2));
        assert_eq!(count(ItemKind::ExceptionWord), Some(1));
        assert_eq!(count(ItemKind::Review), Some(1));
        assert_eq!(count(ItemKind::WordPart), Some(0));
    }

    #[test]
    fn a_lesson_that_only_goes_back_over_something_is_the_known_one() {
        let old = content("m:m;+all;d:d/+all;+m");
        let mut known = crate::sequence::Known::default();
        known.add(&old);
        known.add(&old);
        // The same without any ids, a step earlier and once more.
        let item =
            |label: &str| serde_json::json!({"title": "L", "items": [{"kind": "review", "label": label}]});
        let steps = serde_json::json!([{"title": "S", "lessons": [item("all"), item("m"), item("all"), item("all")]}]);
        let draft: Draft = serde_json::from_value(serde_json::json!({"steps": steps})).unwrap();
        let new = settle(draft, &known, &mut || uuid::Uuid::from_u128(999)).unwrap();
        let ids = |content: &Content| -> Vec<_> {
            content.lessons().map(|(_, _, lesson)| (lesson.id, lesson.items[0].id)).collect()
        };
        let (was, is) = (ids(&old), ids(&new));
        assert_eq!(is[..3], [was[1], was[4], was[3]]);
        assert_eq!(is[3].0.uuid(), uuid::Uuid::from_u128(999));
    }

    #[test]
    fn ids_must_be_this_sequences() {
        let stray = uuid::Uuid::from_u128(99);
        let draft: Draft = serde_json::from_value(serde_json::json!({"steps": [
            {"id": stray, "title": "S", "lessons": [{"title": "L", "items": [
                {"kind": "review", "label": "x", "keyword": "y"},
                {"kind": "gpc", "gpc": {"grapheme": "A", "phoneme": "/æ/"}},
                {"kind": "gpc"}, {"kind": "oral_skill"}]}]}]}))
        .unwrap();
        let faults = settle(draft, &crate::sequence::Known::default(), &mut uuid::Uuid::nil).unwrap_err();
        let fields: Vec<_> = faults.iter().map(|f| f.field.as_str()).collect();
        assert_eq!(
            fields,
            [
                "steps[0].id",
                "steps[0].lessons[0].items[0].keyword",
                "steps[0].lessons[0].items[1].gpc.grapheme",
                "steps[0].lessons[0].items[1].gpc.phoneme",
                "steps[0].lessons[0].items[2].gpc",
                "steps[0].lessons[0].items[3].label",
            ]
        );
    }
}
