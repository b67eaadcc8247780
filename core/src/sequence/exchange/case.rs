//! CASE 1.1: the sequence is a `CFDocument`; steps, lessons and items are `CFItems`; `isChildOf`
//! with its `sequenceNumber` says what stands where, and `precedes` the order of lessons.
//!
//! A pair has one item however often it is taught, because its id is the pair's. Grapheme and
//! phoneme stand in an extension of their own: `humanCodingScheme` is for codes that people
//! cite, and one text of both would have to be taken apart again. `abbreviatedStatement` shows
//! the pair to readers that know no extension. A keyword belongs to the place it is taught at.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::{
    id::Id,
    sequence::{Content, Draft, DraftItem, DraftLesson, DraftStep, Fault, Gpc, Item, ItemKind},
    text::Title,
};

/// Namespace of association ids, which follow from what they join.
const NAMESPACE: Uuid = Uuid::from_u128(0x3d1b_7c52_90ae_5e2f_8b64_0f7a_d25c_1e98);
const STEP: &str = "step";
const LESSON: &str = "lesson";
const CHILD: &str = "isChildOf";
const PRECEDES: &str = "precedes";

/// A whole framework in one file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CasePackage {
    /// The sequence.
    #[serde(rename = "CFDocument")]
    pub document: CaseDocument,
    /// Steps, lessons and items, each once.
    #[serde(rename = "CFItems")]
    pub items: Vec<CaseItem>,
    /// What stands where, and in which order.
    #[serde(rename = "CFAssociations")]
    pub associations: Vec<CaseAssociation>,
}

/// The sequence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseDocument {
    /// The sequence's id, or the version's.
    pub identifier: Uuid,
    /// The same as a URN.
    pub uri: String,
    /// What made the file.
    pub creator: String,
    /// The sequence's name.
    pub title: String,
    /// When it was published, or the draft read.
    pub last_change_date_time: String,
    /// The version of CASE.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case_version: Option<String>,
}

/// A step, lesson or item.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseItem {
    /// Its id.
    pub identifier: Uuid,
    /// The same as a URN.
    pub uri: String,
    /// The title or label.
    pub full_statement: Title,
    /// A GPC's pair, to be read by people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub abbreviated_statement: Option<String>,
    /// `step`, `lesson` or the item's kind.
    #[serde(rename = "CFItemType")]
    pub kind: String,
    /// When it changed.
    pub last_change_date_time: String,
    /// A GPC's pair.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extensions: Option<CaseItemExtensions>,
}

/// What CASE has no field for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseItemExtensions {
    /// The pair.
    #[serde(rename = "plumbline:gpc")]
    pub gpc: Gpc,
}

/// What CASE has no field for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseAssociationExtensions {
    /// A word to remember the GPC by, at this place.
    #[serde(rename = "plumbline:keyword")]
    pub keyword: Title,
}

/// One end of an association.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseLink {
    /// As shown.
    pub title: String,
    /// Its id.
    pub identifier: Uuid,
    /// The same as a URN.
    pub uri: String,
}

/// That one is a child of another, or comes before it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaseAssociation {
    /// Its id.
    pub identifier: Uuid,
    /// The same as a URN.
    pub uri: String,
    /// `isChildOf` or `precedes`.
    pub association_type: String,
    /// The place among the children of one parent, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sequence_number: Option<u32>,
    /// The child, or what comes first.
    #[serde(rename = "originNodeURI")]
    pub origin: CaseLink,
    /// The parent, or what comes after.
    #[serde(rename = "destinationNodeURI")]
    pub destination: CaseLink,
    /// When it changed.
    pub last_change_date_time: String,
    /// The keyword.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extensions: Option<CaseAssociationExtensions>,
}

fn urn(id: Uuid) -> String {
    format!("urn:uuid:{id}")
}

/// Writes content as a framework; `at` is when it changed, in RFC 3339.
pub fn write(content: &Content, id: Uuid, name: &str, at: &str) -> CasePackage {
    let mut out = Writing { at, items: Vec::new(), seen: BTreeSet::new(), associations: Vec::new() };
    let root = (id, name);
    let mut before: Option<(Uuid, &str)> = None;
    for (s, step) in content.steps.iter().enumerate() {
        let own = (step.id.uuid(), step.title.as_str());
        out.item(own.0, &step.title, STEP, None);
        out.join(CHILD, own, root, Some(s), None);
        for (l, lesson) in step.lessons.iter().enumerate() {
            let this = (lesson.id.uuid(), lesson.title.as_str());
            out.item(this.0, &lesson.title, LESSON, None);
            out.join(CHILD, this, own, Some(l), None);
            if let Some(before) = before.replace(this) {
                out.join(PRECEDES, before, this, None, None);
            }
            for (n, item) in lesson.items.iter().enumerate() {
                out.taught(item);
                out.join(CHILD, (item.id.uuid(), item.label.as_str()), this, Some(n), item.keyword.clone());
            }
        }
    }
    CasePackage {
        document: CaseDocument {
            identifier: id,
            uri: urn(id),
            creator: "Plumbline".to_owned(),
            title: name.to_owned(),
            last_change_date_time: at.to_owned(),
            case_version: Some("1.1".to_owned()),
        },
        items: out.items,
        associations: out.associations,
    }
}

struct Writing<'a> {
    at: &'a str,
    items: Vec<CaseItem>,
    seen: BTreeSet<Uuid>,
    associations: Vec<CaseAssociation>,
}

impl Writing<'_> {
    fn item(&mut self, id: Uuid, title: &Title, kind: &str, gpc: Option<&Gpc>) {
        if !self.seen.insert(id) {
            return;
        }
        self.items.push(CaseItem {
            identifier: id,
            uri: urn(id),
            full_statement: title.clone(),
            abbreviated_statement: gpc.map(Gpc::label),
            kind: kind.to_owned(),
            last_change_date_time: self.at.to_owned(),
            extensions: gpc.map(|gpc| CaseItemExtensions { gpc: gpc.clone() }),
        });
    }

    fn taught(&mut self, item: &Item) {
        self.item(item.id.uuid(), &item.label, item.kind.as_str(), item.gpc.as_ref());
    }

    fn join(
        &mut self,
        kind: &str,
        from: (Uuid, &str),
        to: (Uuid, &str),
        place: Option<usize>,
        keyword: Option<Title>,
    ) {
        let number = place.map(|place| u32::try_from(place + 1).unwrap_or(u32::MAX));
        let parts = [
            kind,
            &from.0.to_string(),
            &to.0.to_string(),
            &number.map_or_else(String::new, |number| number.to_string()),
        ];
        let id = Id::<crate::id::kind::Item>::from_parts(NAMESPACE, &parts).uuid();
        let link =
            |(id, title): (Uuid, &str)| CaseLink { title: title.to_owned(), identifier: id, uri: urn(id) };
        self.associations.push(CaseAssociation {
            identifier: id,
            uri: urn(id),
            association_type: kind.to_owned(),
            sequence_number: number,
            origin: link(from),
            destination: link(to),
            last_change_date_time: self.at.to_owned(),
            extensions: keyword.map(|keyword| CaseAssociationExtensions { keyword }),
        });
    }
}

/// Reads a framework as a draft.
///
/// # Errors
/// Every fault found, with its path in the file: what cannot be kept is refused, not dropped.
pub fn read(package: &CasePackage) -> Result<Draft, Vec<Fault>> {
    let mut reading =
        Reading { package, children: BTreeMap::new(), items: BTreeMap::new(), faults: Vec::new() };
    reading.index();
    reading.placed();
    if !reading.faults.is_empty() {
        return Err(reading.faults);
    }
    let draft = reading.draft();
    reading.order(&draft);
    if reading.faults.is_empty() { Ok(draft) } else { Err(reading.faults) }
}

struct Reading<'a> {
    package: &'a CasePackage,
    /// The children of a parent: number, place in the file.
    children: BTreeMap<Uuid, Vec<(u32, usize)>>,
    items: BTreeMap<Uuid, usize>,
    faults: Vec<Fault>,
}

impl<'a> Reading<'a> {
    fn fault(&mut self, field: String, message: &str) {
        self.faults.push(Fault { field, message: message.to_owned() });
    }

    fn index(&mut self) {
        let package = self.package;
        for (n, item) in package.items.iter().enumerate() {
            let at = format!("CFItems[{n}]");
            if item.identifier == package.document.identifier
                || self.items.insert(item.identifier, n).is_some()
            {
                self.fault(format!("{at}.identifier"), "stands twice");
            }
            let kind = ItemKind::parse(&item.kind);
            if kind.is_none() && item.kind != STEP && item.kind != LESSON {
                self.fault(format!("{at}.CFItemType"), "must be step, lesson or the kind of an item");
            }
            if kind != Some(ItemKind::Gpc) && item.extensions.is_some() {
                self.fault(format!("{at}.extensions"), "is for items of kind gpc");
            }
        }
    }

    /// What a parent's children must be.
    fn level(&self, id: Uuid) -> Option<&'static str> {
        if id == self.package.document.identifier {
            return Some("document");
        }
        match self.package.items[*self.items.get(&id)?].kind.as_str() {
            STEP => Some(STEP),
            LESSON => Some(LESSON),
            _ => Some("item"),
        }
    }

    fn placed(&mut self) {
        let package = self.package;
        let mut has_parent = BTreeSet::new();
        for (n, association) in package.associations.iter().enumerate() {
            let at = format!("CFAssociations[{n}]");
            let (from, to) = (association.origin.identifier, association.destination.identifier);
            let (Some(child), Some(parent)) = (self.level(from), self.level(to)) else {
                let end = if self.level(from).is_none() { "originNodeURI" } else { "destinationNodeURI" };
                self.fault(format!("{at}.{end}.identifier"), "names nothing in this file");
                continue;
            };
            if association.association_type == PRECEDES {
                if association.extensions.is_some() || association.sequence_number.is_some() {
                    self.fault(at, "precedes takes neither extensions nor sequenceNumber");
                }
                continue;
            }
            if association.association_type != CHILD {
                self.fault(format!("{at}.associationType"), "must be isChildOf or precedes");
                continue;
            }
            let fits = matches!((child, parent), (STEP, "document") | (LESSON, STEP) | ("item", LESSON));
            if !fits {
                self.fault(at, "steps belong to the document, lessons to steps, items to lessons");
                continue;
            }
            if !has_parent.insert(from) && child != "item" {
                self.fault(format!("{at}.originNodeURI.identifier"), "has two parents");
            }
            if association.extensions.is_some() && child != "item" {
                self.fault(format!("{at}.extensions"), "is for items");
            }
            match association.sequence_number {
                Some(number) => self.children.entry(to).or_default().push((number, n)),
                None => self.fault(format!("{at}.sequenceNumber"), "is required for isChildOf"),
            }
        }
        for (n, item) in package.items.iter().enumerate() {
            if !has_parent.contains(&item.identifier) {
                self.fault(format!("CFItems[{n}]"), "stands nowhere: isChildOf is missing");
            }
        }
        self.children.values_mut().for_each(|list| list.sort_unstable());
    }

    fn children(&self, of: Uuid) -> Vec<(&'a CaseItem, &'a CaseAssociation)> {
        let package = self.package;
        let list = self.children.get(&of).into_iter().flatten();
        list.filter_map(|(_, n)| {
            let association = &package.associations[*n];
            let item = self.items.get(&association.origin.identifier)?;
            Some((&package.items[*item], association))
        })
        .collect()
    }

    fn draft(&self) -> Draft {
        let item = |(item, association): (&CaseItem, &CaseAssociation)| {
            Some(DraftItem {
                id: Some(Id::from_uuid(item.identifier)),
                kind: ItemKind::parse(&item.kind)?,
                label: Some(item.full_statement.clone()),
                gpc: item.extensions.as_ref().map(|extensions| extensions.gpc.clone()),
                keyword: association.extensions.as_ref().map(|extensions| extensions.keyword.clone()),
            })
        };
        let lesson = |(lesson, _): (&CaseItem, &CaseAssociation)| DraftLesson {
            id: Some(Id::from_uuid(lesson.identifier)),
            title: lesson.full_statement.clone(),
            items: self.children(lesson.identifier).into_iter().filter_map(item).collect(),
        };
        let step = |(step, _): (&CaseItem, &CaseAssociation)| DraftStep {
            id: Some(Id::from_uuid(step.identifier)),
            title: step.full_statement.clone(),
            lessons: self.children(step.identifier).into_iter().map(lesson).collect(),
        };
        Draft { steps: self.children(self.package.document.identifier).into_iter().map(step).collect() }
    }

    /// What is said of the order of lessons must be the order they stand in.
    fn order(&mut self, draft: &Draft) {
        let lessons = draft.steps.iter().flat_map(|step| &step.lessons).filter_map(|lesson| lesson.id);
        let place: BTreeMap<Uuid, usize> = lessons.enumerate().map(|(n, id)| (id.uuid(), n)).collect();
        for (n, association) in self.package.associations.iter().enumerate() {
            let ends = [&association.origin, &association.destination].map(|end| place.get(&end.identifier));
            if association.association_type == PRECEDES && !matches!(ends, [Some(a), Some(b)] if a < b) {
                self.fault(
                    format!("CFAssociations[{n}]"),
                    "precedes must join lessons in the order they stand in",
                );
            }
        }
    }
}
