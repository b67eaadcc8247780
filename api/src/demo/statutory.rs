//! The statutory check: last summer's window with its results, and next summer's, which is not open yet.

use chrono::{Days, Weekday};
use plumbline_core::time::Date;
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Failure, calendar::school_year, progress::count, setup::Ready, side_by_side::side_by_side};
use crate::remote::{Body, Tagged};

/// The year group of those who were checked last summer, as it is called now, and as it was then.
const NOW: &str = "year_2";
const THEN: &str = "Year 1";
const TERM: &str = "summer";

#[derive(Deserialize)]
struct Window {
    id: String,
    opens_on: Date,
}

#[derive(Deserialize)]
struct Shown {
    left: usize,
}

impl Ready<'_> {
    /// The office says who was in Year 1 last year, the lead enters the results of then, the head submits them.
    pub(super) fn statutory(&self) -> Result<(), Failure> {
        let year = self.work.plan.year.year;
        let (office, lead, head) =
            (self.people.get("office")?, self.people.get("lead")?, self.people.get("head")?);
        let before = school_year(year - 1);
        let body =
            json!({"starts_on": before.starts_on, "ends_on": before.ends_on, "half_terms": before.terms});
        office.put(&format!("/school-years/{}", before.year), None, &body)?;
        let window: Tagged<Window> = lead.post_tagged("/statutory-windows", &self.window(year))?;
        let opens_on = window.body.opens_on;
        let pupils: Vec<&(&super::data::Pupil, String)> = self
            .groups
            .iter()
            .filter(|group| group.group.class.is_some())
            .flat_map(|group| &group.pupils)
            .filter(|(pupil, _)| self.work.data.year_group(pupil) == NOW)
            .collect();
        let then = json!({"year_group": THEN, "from": opens_on});
        side_by_side(&pupils, |(_, id)| {
            let path = format!("/pupils/{id}");
            let seen: Tagged<Value> = office.get_tagged(&path)?;
            office.send("PATCH", &path, Some(&seen.etag), &Body::Json(&then))?;
            Ok(())
        })?;
        let results: Vec<Value> = pupils
            .iter()
            .enumerate()
            .map(|(n, (pupil, id))| self.result(n, &pupil.pupil_ref, id, opens_on))
            .collect();
        let path = format!("/statutory-windows/{}", window.body.id);
        let _: Value = lead.post(&format!("{path}/results"), &json!({"results": results}))?;
        let shown: Tagged<Shown> = head.get_tagged(&path)?;
        let go_on = json!({"go_on_without": shown.body.left});
        head.send("POST", &format!("{path}/submission"), Some(&shown.etag), &Body::Json(&go_on))?;
        let _: Window = lead.post("/statutory-windows", &self.window(year + 1))?;
        self.work.progress.say(&format!(
            "The results of {} in the statutory check of {year} are entered and submitted; next year's window is not \
             open yet",
            count(results.len(), "pupil")
        ));
        Ok(())
    }

    /// A window of a year: the rule pack's, or in the week of June's second Monday.
    fn window(&self, year: i32) -> Value {
        let mut windows = self.work.data.rules.statutory_check.windows.iter();
        let monday = Date::from_weekday_of_month_opt(year, 6, Weekday::Mon, 2);
        match monday.filter(|_| !windows.any(|one| one.year == year && one.term == TERM)) {
            Some(monday) => {
                json!({"year": year, "term": TERM, "opens_on": monday, "closes_on": monday + Days::new(4),
                                   "absentees_until": monday + Days::new(11)})
            }
            None => json!({"year": year, "term": TERM}),
        }
    }

    /// A result: most read most of the words, one was away and one did not take it.
    fn result(&self, n: usize, pupil_ref: &str, id: &str, opens_on: Date) -> Value {
        match n {
            7 => return json!({"pupil_id": id, "result": "A"}),
            19 => return json!({"pupil_id": id, "result": "D", "reason": "just_arrived"}),
            _ => {}
        }
        let chance = self.work.chance;
        let most = self.work.data.rules.statutory_check.maximum;
        // The better of two draws: few read little, and many nearly all.
        let draw = |which: &str| chance.fraction(&["statutory", which, pupil_ref]);
        let part = draw("one").max(draw("other"));
        let mark = (part * f64::from(most) + 1.0).floor().min(f64::from(most));
        let day = (0..5).find(|day| draw("day") * 5.0 < f64::from(*day) + 1.0).unwrap_or(0);
        let on = opens_on + Days::new(u64::try_from(day).unwrap_or(0));
        json!({"pupil_id": id, "result": format!("{mark}"), "on": on})
    }
}
