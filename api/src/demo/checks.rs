//! Checking: short quick checks, then the half-termly round by two adults.

use std::collections::BTreeMap;

use plumbline_core::time::Date;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{
    Failure,
    data::Pupil,
    plan::CheckWeek,
    progress::count,
    setup::{Gpc, Ready, ReadyGroup},
    side_by_side::side_by_side,
    teaching::{Diary, is_away},
};
use crate::remote::{Made, Page, Person};

/// Words to read, by year group: plain words of our own choosing, of GPCs that come before
/// the starting points of that year's classes.
const WORDS: [(&str, &[&str]); 3] = [
    ("reception", &["sun", "ten", "pot", "net", "mud", "pan", "lot", "mop", "sad", "tap"]),
    (
        "year_1",
        &[
            "shelf", "brown", "sport", "spoon", "cloud", "kite", "stone", "green", "burn", "toast", "gong",
            "nail",
        ],
    ),
    (
        "year_2",
        &[
            "shore", "kitten", "dolphin", "hammer", "flute", "coin", "haunt", "screw", "field", "fizz",
            "puppet", "rescue",
        ],
    ),
];

/// Most GPCs of a check: the latest ones.
const MOST_GPCS: usize = 18;
/// After so many misses in a row the adult stops.
const STOP_AFTER: usize = 5;

/// The seed of the check that is built; any would do.
const BUILT_SEED: u32 = 6;

/// A check as the server proposes it.
#[derive(Deserialize)]
struct Proposed {
    recipe: Value,
}

/// A check as the server made it.
#[derive(Deserialize)]
struct Check {
    id: String,
    items: Vec<Made>,
}

/// What a check asks for, with the day it was taught.
struct Asked {
    prompt: String,
    taught_on: Option<Date>,
}

/// One group's part in one round.
struct Sitting<'a> {
    week: &'a CheckWeek,
    round: String,
    group: &'a ReadyGroup<'a>,
    gpcs: Option<(Check, Vec<Asked>)>,
    words: BTreeMap<&'static str, String>,
}

/// An answer taken down wrongly.
struct Slip {
    round: String,
    pupil: String,
    response: String,
    adult: String,
}

/// What came of a sitting.
#[derive(Default)]
struct Sat {
    pupils: usize,
    answers: usize,
    missing: usize,
    slip: Option<Slip>,
}

#[derive(Deserialize)]
struct Response {
    id: String,
    item_id: String,
}

impl Ready<'_> {
    /// Holds every round.
    pub(super) fn check(&self, diaries: &[Diary]) -> Result<(), Failure> {
        let lead = self.people.get("lead")?;
        let mut words = BTreeMap::new();
        for (year_group, list) in WORDS {
            let items: Vec<Value> = list.iter().map(|word| json!({"prompt": word})).collect();
            let name = format!("Words, {}", year_group.replace('_', " "));
            let body = json!({"name": name, "kind": "word_reading", "items": items});
            words.insert(year_group, lead.post::<Check>("/checks", &body)?);
        }
        self.build(lead, diaries)?;
        let mut slip = None;
        for week in &self.work.plan.checks {
            let sittings = self.open(lead, week, diaries, &words)?;
            let sat = side_by_side(&sittings, |sitting| self.sit(sitting, &words))?;
            let sum = |of: fn(&Sat) -> usize| sat.iter().map(of).sum::<usize>();
            self.work.progress.say(&format!(
                "{}: {} gave {}; {} away",
                week.name,
                count(sum(|sat| sat.pupils), "pupil"),
                count(sum(|sat| sat.answers), "answer"),
                sum(|sat| sat.missing),
            ));
            slip = sat.into_iter().find_map(|sat| sat.slip);
        }
        slip.map_or(Ok(()), |slip| self.correct(&slip))
    }

    /// The lead has a check built for the place of the group that was taught most: two forms, of which one is added
    /// as built.
    fn build(&self, lead: &Person, diaries: &[Diary]) -> Result<(), Failure> {
        let most = self.groups.iter().zip(diaries).max_by_key(|(_, diary)| diary.gpcs.len());
        let Some((group, _)) = most.filter(|(_, diary)| !diary.gpcs.is_empty()) else { return Ok(()) };
        let wanted =
            json!({"group_id": group.id, "kind": "word_reading", "items": 8, "forms": 2, "seed": BUILT_SEED});
        let proposed: Proposed = lead.post("/check-proposals", &wanted)?;
        let name = format!("Words to read, {}, form 1", group.group.name);
        let body = json!({"name": name, "kind": "word_reading", "recipe": proposed.recipe});
        let built: Check = lead.post("/checks", &body)?;
        let many = count(built.items.len(), "word");
        self.work
            .progress
            .say(&format!("A check of {many} was built for {}, with a second form", group.group.name));
        Ok(())
    }

    /// The lead makes the week's checks and opens the round.
    fn open<'a>(
        &'a self,
        lead: &Person,
        week: &'a CheckWeek,
        diaries: &[Diary],
        words: &BTreeMap<&'static str, Check>,
    ) -> Result<Vec<Sitting<'a>>, Failure> {
        let (Some(opens), Some(closes)) = (week.days.first(), week.days.last()) else {
            return Ok(Vec::new());
        };
        let mut sittings = Vec::new();
        let mut check_ids: Vec<String> = Vec::new();
        let word_ids: BTreeMap<&'static str, String> = match week.half_termly {
            true => words.iter().map(|(year_group, check)| (*year_group, check.id.clone())).collect(),
            false => BTreeMap::new(),
        };
        check_ids.extend(word_ids.values().cloned());
        for (group, diary) in self.groups.iter().zip(diaries) {
            let asked = asked(group, diary, *opens);
            let gpcs = if asked.is_empty() {
                None
            } else {
                let items: Vec<Value> = asked.iter().map(|(gpc, _)| item(gpc)).collect();
                let name = format!("Sounds, {}, {}", group.group.name, week.name.to_lowercase());
                let body = json!({"name": name, "kind": "gpc_recognition", "items": items});
                let check: Check = lead.post("/checks", &body)?;
                check_ids.push(check.id.clone());
                let asked =
                    asked.into_iter().map(|(gpc, taught_on)| Asked { prompt: gpc.label(), taught_on });
                Some((check, asked.collect()))
            };
            sittings.push(Sitting { week, round: String::new(), group, gpcs, words: word_ids.clone() });
        }
        // In the half-termly round each group's first adult is named to check it.
        let mut checkers: Vec<Value> = Vec::new();
        for sitting in sittings.iter().filter(|sitting| week.half_termly && sitting.gpcs.is_some()) {
            if let Some(key) = sitting.group.group.adults.first() {
                let staff_id = &self.people.get(key)?.staff_id;
                checkers.push(json!({"staff_id": staff_id, "group_id": sitting.group.id}));
            }
        }
        let body = json!({"name": week.name, "opens_on": opens, "closes_on": closes, "check_ids": check_ids,
                          "checkers": checkers});
        let round: Made = lead.post("/check-rounds", &body)?;
        for sitting in &mut sittings {
            sitting.round.clone_from(&round.id);
        }
        sittings.retain(|sitting| sitting.gpcs.is_some());
        Ok(sittings)
    }

    /// Asks the pupils of a group, one after the other.
    fn sit(&self, sitting: &Sitting<'_>, words: &BTreeMap<&'static str, Check>) -> Result<Sat, Failure> {
        let mut sat = Sat::default();
        let pupils = &sitting.group.pupils;
        for (n, (pupil, id)) in pupils.iter().enumerate() {
            // In the half-termly round a second adult takes the second half of the list.
            let second = sitting.week.half_termly && 2 * n >= pupils.len();
            let adults = &sitting.group.group.adults;
            let key = match (second, adults.first(), adults.get(1)) {
                (false, Some(first), _) => first,
                (true, _, Some(second)) => second,
                _ => "lead",
            };
            let Some(day) = self.day_for(sitting.week, pupil) else {
                sat.missing += 1;
                continue;
            };
            sat.pupils += 1;
            if let Some((check, asked)) = &sitting.gpcs {
                self.ask(sitting, check, asked, (pupil, id), key, day, &mut sat)?;
            }
            // A pupil reads the words once, with the class.
            let year_group = self.work.data.year_group(pupil);
            if let Some((_, check)) = words.get_key_value(year_group).filter(|(year_group, _)| {
                sitting.words.contains_key(**year_group) && sitting.group.group.class.is_some()
            }) {
                let asked = words_asked(year_group);
                self.ask(sitting, check, &asked, (pupil, id), key, day, &mut sat)?;
            }
        }
        Ok(sat)
    }

    /// The pupil's day: the third of the week, or the next day there is when away.
    fn day_for(&self, week: &CheckWeek, pupil: &Pupil) -> Option<Date> {
        let from = week.days.len().saturating_sub(3).min(2);
        let mut days = week.days.iter().copied().skip(from).take(2);
        days.find(|day| !is_away(self.work, pupil, *day))
    }

    #[allow(clippy::too_many_arguments)]
    fn ask(
        &self,
        sitting: &Sitting<'_>,
        check: &Check,
        asked: &[Asked],
        (pupil, id): (&Pupil, &str),
        key: &str,
        day: Date,
        sat: &mut Sat,
    ) -> Result<(), Failure> {
        let outcomes = self.outcomes(pupil, asked, day);
        let answers: Vec<Value> = check
            .items
            .iter()
            .zip(&outcomes)
            .map(|(item, outcome)| json!({"item_id": item.id, "outcome": outcome}))
            .collect();
        let path = format!("/check-rounds/{}/pupils/{id}", sitting.round);
        if sitting.week.half_termly && sat.pupils == 1 {
            sat.answers += answers.len();
            return self.on_a_tablet(&path, check, &answers, key, day);
        }
        let body = json!({"check_id": check.id, "on": day, "answers": answers});
        let given: Page<Response> = self.people.get(key)?.post(&format!("{path}/responses"), &body)?;
        sat.answers += given.items.len();
        if sat.slip.is_none()
            && let Some(n) = outcomes.iter().position(|outcome| *outcome == "wrong")
            && let Some(item) = check.items.get(n)
            && let Some(response) = given.items.into_iter().find(|response| response.item_id == item.id)
        {
            let (round, pupil) = (sitting.round.clone(), id.to_owned());
            sat.slip = Some(Slip { round, pupil, response: response.id, adult: key.to_owned() });
        }
        Ok(())
    }

    /// One pupil of each group is asked on a tablet, item by item; the first tap is a wrong one and is taken back.
    fn on_a_tablet(
        &self,
        path: &str,
        check: &Check,
        answers: &[Value],
        key: &str,
        day: Date,
    ) -> Result<(), Failure> {
        let adult = self.people.get(key)?;
        let begun: Made =
            adult.post(&format!("{path}/sittings"), &json!({"check_id": check.id, "on": day}))?;
        let sitting = format!("{path}/sittings/{}", begun.id);
        let send = |answers: &[Value]| -> Result<(), Failure> {
            let with_ids = answers.iter().map(|answer| {
                let mut answer = answer.clone();
                answer["id"] = json!(uuid::Uuid::now_v7());
                answer
            });
            let body = json!({"on": day, "answers": with_ids.collect::<Vec<_>>()});
            adult.post::<Value>(&format!("{sitting}/answers"), &body).map(|_| ())
        };
        if let Some(first) = answers.first() {
            let mut tap = first.clone();
            tap["outcome"] = json!("no_response");
            send(&[tap])?;
            adult.post::<Value>(&format!("{sitting}/undo"), &json!({"id": uuid::Uuid::now_v7()}))?;
        }
        for run in answers.chunks(5) {
            send(run)?;
        }
        adult.post::<Value>(&format!("{sitting}/finish"), &json!({})).map(|_| ())
    }

    /// What a pupil answers: by the pupil's ease with letters, the time since teaching,
    /// and whether this very thing has stuck.
    fn outcomes(&self, pupil: &Pupil, asked: &[Asked], day: Date) -> Vec<&'static str> {
        let (chance, reference, date) = (self.work.chance, pupil.pupil_ref.as_str(), day.to_string());
        let ease = 1.0 - chance.fraction(&["ease", reference]) * chance.fraction(&["ease 2", reference]);
        let mut misses = 0;
        let answer = |asked: &Asked| {
            let prompt = asked.prompt.as_str();
            if misses >= STOP_AFTER {
                return "not_offered";
            }
            let away = asked.taught_on.is_some_and(|taught| is_away(self.work, pupil, taught));
            let days = asked.taught_on.map_or(21, |taught| day.signed_duration_since(taught).num_days());
            let weeks = f64::from(i32::try_from(days.clamp(0, 42)).unwrap_or(0)) / 7.0;
            let strength = 0.28 + 0.6 * ease + 0.03 * weeks - if away { 0.3 } else { 0.0 };
            let sticks = chance.happens(strength, &["sticks", reference, prompt]);
            if chance.happens(if sticks { 0.97 } else { 0.2 }, &["right", reference, prompt, &date]) {
                misses = 0;
                return "right";
            }
            misses += 1;
            let silent = chance.happens(0.3, &["silent", reference, prompt, &date]);
            if silent { "no_response" } else { "wrong" }
        };
        asked.iter().map(answer).collect()
    }

    /// Someone saw that a right answer had been taken down as wrong.
    fn correct(&self, slip: &Slip) -> Result<(), Failure> {
        let path = format!("/check-rounds/{}/pupils/{}/corrections", slip.round, slip.pupil);
        let body = json!({"response_id": slip.response, "outcome": "right"});
        let _: Page<Response> = self.people.get(&slip.adult)?.post(&path, &body)?;
        self.work
            .progress
            .say("One answer was taken down wrongly and is corrected; the first stays on record");
        Ok(())
    }
}

/// The GPCs to ask a group for on a day: two from before its starting point, then the
/// latest it was taught before that week.
fn asked(group: &ReadyGroup<'_>, diary: &Diary, before: Date) -> Vec<(Gpc, Option<Date>)> {
    let taught: Vec<_> = diary.gpcs.iter().filter(|(_, day)| *day < before).collect();
    if taught.is_empty() {
        return Vec::new();
    }
    let latest = taught.iter().skip(taught.len().saturating_sub(MOST_GPCS));
    let older = group.before.iter().map(|gpc| (gpc.clone(), None));
    older.chain(latest.map(|(gpc, day)| (gpc.clone(), Some(*day)))).collect()
}

fn words_asked(year_group: &str) -> Vec<Asked> {
    let list = WORDS.iter().find(|(code, _)| *code == year_group).map_or(&[][..], |(_, words)| *words);
    list.iter().map(|word| Asked { prompt: (*word).to_owned(), taught_on: None }).collect()
}

fn item(gpc: &Gpc) -> Value {
    json!({"prompt": gpc.grapheme, "gpc": {"grapheme": gpc.grapheme, "phoneme": gpc.phoneme}})
}

#[cfg(test)]
mod tests {
    use super::{super::data::Data, WORDS};

    /// Whether a word can be cut into these graphemes, split digraphs among them.
    fn decodes(word: &str, graphemes: &[&str]) -> bool {
        word.is_empty()
            || graphemes.iter().any(|grapheme| match grapheme.split_once('_') {
                None => word.strip_prefix(grapheme).is_some_and(|rest| decodes(rest, graphemes)),
                Some((vowel, end)) => word.strip_prefix(vowel).is_some_and(|rest| {
                    rest.len() > 1
                        && rest[1..]
                            .strip_prefix(end)
                            .is_some_and(|after| decodes(&format!("{}{after}", &rest[..1]), graphemes))
                }),
            })
    }

    #[test]
    fn every_word_is_of_gpcs_that_came_before() {
        let data = Data::read().unwrap();
        for ((year_group, words), start) in WORDS.iter().zip([18, 61, 97]) {
            let graphemes = data.sequence.graphemes_before(start);
            for word in *words {
                assert!(decodes(word, &graphemes), "{year_group}: {word}");
            }
        }
        assert!(!decodes("table", &data.sequence.graphemes_before(18)));
    }
}
