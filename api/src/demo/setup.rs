//! Getting the school ready: people, calendar, pupils, sequence, groups.

use std::collections::BTreeMap;

use plumbline_core::roster::Weekday;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{
    Failure,
    calendar::SchoolYear,
    chance::Chance,
    data::{Data, Group, Pupil},
    plan::{Plan, days_of_meeting},
    progress::{Progress, count},
};
use crate::remote::{Client, Made, Page, Person, Tagged};

/// What all the work refers to.
pub(super) struct Work<'a> {
    pub(super) data: &'a Data,
    pub(super) plan: &'a Plan,
    pub(super) chance: Chance,
    pub(super) progress: &'a Progress,
}

/// The school, ready to teach.
pub(super) struct Ready<'a> {
    pub(super) work: &'a Work<'a>,
    pub(super) people: People,
    pub(super) groups: Vec<ReadyGroup<'a>>,
    /// The half term of the report.
    pub(super) half_term_id: String,
}

/// A group with its ids.
pub(super) struct ReadyGroup<'a> {
    pub(super) group: &'a Group,
    pub(super) id: String,
    pub(super) pupils: Vec<(&'a Pupil, String)>,
    /// GPCs that come just before its starting point.
    pub(super) before: Vec<Gpc>,
}

/// Staff by key, signed in.
pub(super) struct People(BTreeMap<String, Person>);

impl People {
    /// Someone by key.
    pub(super) fn get(&self, key: &str) -> Result<&Person, Failure> {
        Ok(self.0.get(key).ok_or_else(|| format!("nobody on the staff is \"{key}\""))?)
    }
}

/// A grapheme and the sound it stands for.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
pub(super) struct Gpc {
    pub(super) grapheme: String,
    pub(super) phoneme: String,
}

impl Gpc {
    pub(super) fn label(&self) -> String {
        format!("{} /{}/", self.grapheme, self.phoneme)
    }
}

#[derive(Deserialize)]
struct Content {
    steps: Vec<Step>,
}

#[derive(Deserialize)]
struct Step {
    lessons: Vec<Lesson>,
}

#[derive(Deserialize)]
struct Lesson {
    items: Vec<Item>,
}

#[derive(Deserialize)]
struct Item {
    gpc: Option<Gpc>,
}

impl<'a> Work<'a> {
    /// Does everything that comes before the first lesson. `token` invites the administrator.
    pub(super) fn set_up(&'a self, client: &Client, token: &str) -> Result<Ready<'a>, Failure> {
        let people = self.staff(client, token)?;
        let half_term_id = self.calendar(&people)?;
        let pupils = self.roster(&people)?;
        self.class_teachers(&people)?;
        let (sequence, content) = self.sequence(&people)?;
        let groups = self.groups(&people, &pupils, &sequence, &content)?;
        Ok(Ready { work: self, people, groups, half_term_id })
    }

    /// The administrator joins and invites the others, who join.
    fn staff(&self, client: &Client, token: &str) -> Result<People, Failure> {
        #[derive(Deserialize)]
        struct Invitation {
            token: String,
        }
        let mut people = BTreeMap::new();
        let staff = &self.data.school.staff;
        let join = |key: &str, email: &str, token: &str| {
            let password = self.chance.password(key);
            client.accept(token, &password)?;
            client.sign_in(email, &password, None)
        };
        let first = staff.first().ok_or("the school has no staff")?;
        let administrator = join(&first.key, &first.email, token)?;
        for member in staff.iter().skip(1) {
            let roles: Vec<Value> = member.roles.iter().map(|role| self.role(role)).collect();
            let body = json!({"name": member.name, "email": member.email, "roles": roles});
            let invited: Invitation = administrator.post("/invitations", &body)?;
            people.insert(member.key.clone(), join(&member.key, &member.email, &invited.token)?);
        }
        people.insert(first.key.clone(), administrator);
        self.progress.say(&format!(
            "The administrator has joined and invited {}; everyone has signed in",
            count(people.len().saturating_sub(1), "colleague")
        ));
        Ok(People(people))
    }

    /// A role from the first day of the year; cover ends in a week.
    fn role(&self, role: &str) -> Value {
        let until = (role == "cover").then(|| self.plan.today + chrono::Days::new(7));
        json!({"role": role, "from": self.plan.year.starts_on, "until": until})
    }

    /// The office enters the school year; returns the id of the half term of the report.
    fn calendar(&self, people: &People) -> Result<String, Failure> {
        #[derive(Deserialize)]
        struct Year {
            half_terms: Vec<HalfTerm>,
        }
        #[derive(Deserialize)]
        struct HalfTerm {
            id: String,
            name: String,
        }
        let office = people.get("office")?;
        let save = |year: &SchoolYear| -> Result<(), Failure> {
            let body =
                json!({"starts_on": year.starts_on, "ends_on": year.ends_on, "half_terms": year.terms});
            office.put(&format!("/school-years/{}", year.year), None, &body)?;
            for day in &year.training {
                let body = json!({"from": day, "kind": "inset", "reason": "training"});
                let _: Made = office.post("/closures", &body)?;
            }
            let body = json!({"from": year.bank_holiday, "kind": "closure", "reason": "other"});
            let _: Made = office.post("/closures", &body)?;
            Ok(())
        };
        let year = &self.plan.year;
        save(year)?;
        let saved: Page<Year> = office.get("/school-years")?;
        if let Some(current) = &self.plan.current_year {
            save(current)?;
        }
        let half_term = saved
            .items
            .into_iter()
            .flat_map(|year| year.half_terms)
            .find(|half_term| half_term.name == self.plan.term.name)
            .ok_or("the calendar has lost a half term")?;
        self.progress.say(&format!(
            "The office has entered the school year {}-{}: {} and {}",
            year.year,
            (year.year + 1) % 100,
            count(year.terms.len(), "half term"),
            count(year.teaching_days(year.starts_on, year.ends_on).len(), "teaching day"),
        ));
        Ok(half_term.id)
    }

    /// The office imports the pupil file; returns the pupils' ids by reference.
    fn roster(&self, people: &People) -> Result<BTreeMap<&'a str, String>, Failure> {
        #[derive(Deserialize)]
        struct Import {
            id: String,
            etag: String,
            created: Vec<Value>,
            new_classes: Vec<String>,
            rejected: Vec<Value>,
        }
        let office = people.get("office")?;
        let year = &self.plan.year;
        let import: Import =
            office.post_file("/roster-imports", "text/csv", &self.data.roster(year.year)?)?;
        self.progress.say(&format!(
            "The office has looked at the pupil file: {} to add in {}, {} not understood",
            count(import.created.len(), "pupil"),
            count(import.new_classes.len(), "class"),
            count(import.rejected.len(), "row"),
        ));
        let path = format!("/roster-imports/{}", import.id);
        // Early in a school year the demo plays in the one before.
        office.put(&format!("{path}/answers"), Some(&import.etag), &json!({"year": year.year}))?;
        let _: Made = office.post(&format!("{path}/confirm"), &json!({"from": year.starts_on}))?;
        let mut ids = BTreeMap::new();
        for pupil in &self.data.pupils {
            let found: Page<Made> = office.get(&format!("/pupils?find={}", pupil.pupil_ref))?;
            let id = found.items.into_iter().next().map(|found| found.id);
            let id = id.ok_or_else(|| format!("the import has lost pupil {}", pupil.pupil_ref))?;
            ids.insert(pupil.pupil_ref.as_str(), id);
        }
        self.progress.say(&format!("... and confirmed it: {} on roll", count(ids.len(), "pupil")));
        Ok(ids)
    }

    fn class_teachers(&self, people: &People) -> Result<(), Failure> {
        #[derive(Deserialize)]
        struct Class {
            id: String,
            name: String,
        }
        let office = people.get("office")?;
        let listed: Page<Class> = office.get("/classes")?;
        for class in &self.data.school.classes {
            let found = listed.items.iter().find(|listed| listed.name == class.name);
            let path = format!("/classes/{}", found.ok_or("the import has lost a class")?.id);
            let read: Tagged<Value> = office.get_tagged(&path)?;
            let body = self.adults(people, std::slice::from_ref(&class.teacher))?;
            office.put(&format!("{path}/adults"), Some(&read.etag), &body)?;
        }
        self.progress.say(&format!("{} have their teachers", count(self.data.school.classes.len(), "class")));
        Ok(())
    }

    /// Adults assigned from the first day of the year on.
    fn adults(&self, people: &People, keys: &[String]) -> Result<Value, Failure> {
        let from = self.plan.year.starts_on;
        let adult = |key: &String| Ok(json!({"staff_id": people.get(key)?.staff_id, "from": from}));
        Ok(json!({"adults": keys.iter().map(adult).collect::<Result<Vec<Value>, Failure>>()?}))
    }

    /// The lead drafts, analyses and publishes the sequence.
    fn sequence(&self, people: &People) -> Result<(String, Content), Failure> {
        #[derive(Deserialize)]
        struct Analysis {
            steps: usize,
            lessons: usize,
            items: Vec<KindCount>,
            publishable: bool,
            findings: Vec<Finding>,
        }
        #[derive(Deserialize)]
        struct KindCount {
            kind: String,
            count: usize,
        }
        #[derive(Deserialize)]
        struct Finding {
            message: String,
        }
        let lead = people.get("lead")?;
        let made: Made = lead.post("/sequences", &json!({"name": self.data.sequence.name}))?;
        let path = format!("/sequences/{}", made.id);
        let draft: Tagged<Value> = lead.get_tagged(&format!("{path}/draft"))?;
        lead.put(
            &format!("{path}/draft"),
            Some(&draft.etag),
            &serde_json::to_value(&self.data.sequence.draft)?,
        )?;
        let analysis: Analysis = lead.get(&format!("{path}/draft/analysis"))?;
        let gpcs = analysis.items.iter().find(|line| line.kind == "gpc").map_or(0, |line| line.count);
        self.progress.say(&format!(
            "The lead's draft holds {}, {} and {}; {} to look at",
            count(analysis.steps, "step"),
            count(analysis.lessons, "lesson"),
            count(gpcs, "GPC"),
            count(analysis.findings.len(), "finding"),
        ));
        if let Some(finding) = analysis.findings.first().filter(|_| !analysis.publishable) {
            return Err(format!("the draft cannot be published: {}", finding.message).into());
        }
        let body = json!({"effective_on": self.plan.year.starts_on, "note": "First version"});
        let version: Made = lead.post(&format!("{path}/versions"), &body)?;
        let content = lead.get(&format!("{path}/versions/{}", version.id))?;
        self.progress
            .say(&format!("The lead has published it as version 1 from {}", self.plan.year.starts_on));
        Ok((made.id, content))
    }

    fn groups(
        &self,
        people: &People,
        ids: &BTreeMap<&'a str, String>,
        sequence: &str,
        content: &Content,
    ) -> Result<Vec<ReadyGroup<'a>>, Failure> {
        let lead = people.get("lead")?;
        let mut ready = Vec::new();
        for group in &self.data.school.groups {
            let body = json!({"name": group.name, "sequence_id": sequence});
            let made: Tagged<Made> = lead.post_tagged("/groups", &body)?;
            let path = format!("/groups/{}", made.body.id);
            let adults = self.adults(people, &group.adults)?;
            let etag = lead.put(&format!("{path}/adults"), Some(&made.etag), &adults)?;
            let pupils: Vec<(&Pupil, String)> = self
                .data
                .pupils_of(group)
                .into_iter()
                .filter_map(|pupil| Some((pupil, ids.get(pupil.pupil_ref.as_str())?.clone())))
                .collect();
            let members: Vec<&String> = pupils.iter().map(|(_, id)| id).collect();
            let members = json!({"from": self.plan.year.starts_on, "pupil_ids": members});
            let mut etag = lead.put(&format!("{path}/members"), Some(&etag), &members)?;
            if let Some(slots) = weekly(group) {
                let timetable = json!({"from": self.plan.year.starts_on, "slots": slots});
                etag = lead.put(&format!("{path}/timetable"), Some(&etag), &timetable)?;
            }
            if group.start_step > 1 {
                let taught = json!({"as_of": self.plan.year.starts_on.pred_opt(), "through_step": group.start_step - 1});
                lead.put(&format!("{path}/carried-in"), Some(&etag), &taught)?;
            }
            let before = before(content, group.start_step);
            ready.push(ReadyGroup { group, id: made.body.id, pupils, before });
        }
        self.progress.say(&format!(
            "The lead has made {}, each with its adults and what it was taught before",
            count(ready.len(), "teaching group")
        ));
        Ok(ready)
    }
}

/// The lessons a week of a group that has none on some day.
fn weekly(group: &Group) -> Option<Vec<Value>> {
    let days = days_of_meeting(group.lessons_per_week);
    let slot = |day: &Weekday| json!({"weekday": day, "part": group.part});
    (days.len() < 5).then(|| days.iter().map(slot).collect())
}

/// The last two GPCs before a step.
fn before(content: &Content, start_step: usize) -> Vec<Gpc> {
    let steps = content.steps.iter().take(start_step.saturating_sub(1));
    let items = steps.flat_map(|step| &step.lessons).flat_map(|lesson| &lesson.items);
    let gpcs: Vec<Gpc> = items.filter_map(|item| item.gpc.clone()).collect();
    gpcs[gpcs.len().saturating_sub(2)..].to_vec()
}
