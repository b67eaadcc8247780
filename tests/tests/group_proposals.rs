//! Proposals of teaching groups: who with whom and why, compared, accepted from a day on.
#![allow(clippy::unwrap_used)]

use plumbline_tests::{Answer, Pupils, School, Value, column, json, lesson_ids, text};

const PATH: &str = "/group-proposals";

/// Zoe and Max are in Ants, Ida in Bees, Bo in none; the sequence teaches m o | d the | e | n.
///
/// m, o and d are secure with Zoe, who was taught "the"; Max was taught m and o, and missed d and "the"; m and
/// o were carried in for Ida; Bo was taught nothing and did not know m.
struct Start {
    school: School,
    sequence: String,
    pupils: Pupils,
    ants: String,
    bees: String,
}

fn start() -> Start {
    let school = School::start();
    school.calendar();
    let (sequence, content) = school.sequence();
    let pupils = school.pupils(&[("Zoe", "Alder"), ("Max", "Alder"), ("Ida", "Rowan"), ("Bo", "Rowan")]);
    let ants = school.group("Ants", &sequence, &[&pupils["Zoe"], &pupils["Max"]]);
    let bees = school.group("Bees", &sequence, &[&pupils["Ida"]]);
    let (lead, lessons) = (school.lead(), lesson_ids(&content));
    school.log_lesson(&lead, &ants, "2026-11-02", &lessons[0], "delivered", &json!({})).expect(201);
    let absent = json!({"register": [{"pupil_id": pupils["Max"], "mark": "absent"}]});
    school.log_lesson(&lead, &ants, "2026-11-03", &lessons[1], "delivered", &absent).expect(201);
    let carried = format!("/groups/{bees}/carried-in");
    let taught = json!({"as_of": "2026-10-01", "lesson_ids": [lessons[0]]});
    lead.put(&carried, &lead.get(&carried).etag(), taught).expect(200);
    let (check, items) = school.gpc_check("Step 1", &[("m", "m"), ("o", "ɒ"), ("d", "d")]);
    for (name, on) in [("One", "2026-11-04"), ("Two", "2026-11-10"), ("Three", "2026-11-17")] {
        let round = school.round(name, on, on, &[&check]);
        let right: Vec<(&str, &str)> = items.iter().map(|item| (item.as_str(), "right")).collect();
        school.answer(&lead, (&round, &pupils["Zoe"], &check), on, &right).expect(201);
        if name == "One" {
            school.answer(&lead, (&round, &pupils["Bo"], &check), on, &[(&items[0], "wrong")]).expect(201);
        }
    }
    Start { school, sequence, pupils, ants, bees }
}

impl Start {
    fn post(&self, body: &Value) -> Answer {
        self.school.lead().post(PATH, body.clone())
    }

    fn propose(&self, body: &Value) -> Value {
        self.post(body).expect(201)
    }

    fn refused(&self, body: &Value) -> Vec<String> {
        self.post(body).problem(422, "invalid")
    }

    /// Ants of two at most, Foxes to be made, for everybody; whoever is in Bees leaves it.
    fn ask(&self) -> Value {
        json!({"sequence_id": self.sequence, "pupil_ids": [self.pupils["Ida"], self.pupils["Bo"]],
               "leave": [self.bees],
               "groups": [{"group_id": self.ants, "name": "Ants", "least": 1, "most": 2},
                          {"name": "Foxes", "staff_id": self.school.staff_id("teacher:2"), "room": "Library",
                           "least": 1, "most": 3}]})
    }

    fn accept(&self, made: &Value, on: &str) -> Answer {
        self.school.lead().post(&format!("{PATH}/{}/accept", text(&made["id"])), json!({"on": on}))
    }

    fn members(&self, group: &str, on: &str) -> Vec<String> {
        let body = self.school.lead().get(&format!("/groups/{group}?on={on}")).expect(200);
        column(&body["members"], "name")
    }

    fn operations(&self) -> Vec<String> {
        column(&self.school.lead().get("/audit-entries").expect(200)["items"], "operation")
    }
}

fn placed(made: &Value) -> Vec<Vec<String>> {
    made["groups"].as_array().unwrap().iter().map(|group| column(&group["pupils"], "name")).collect()
}

fn pupil<'a>(made: &'a Value, name: &str) -> &'a Value {
    let groups = made["groups"].as_array().unwrap().iter();
    let mut pupils = groups.flat_map(|group| group["pupils"].as_array().unwrap());
    pupils.find(|pupil| text(&pupil["name"]).starts_with(name)).unwrap()
}

#[test]
fn each_placement_says_why_in_items() {
    let start = start();
    let made = start.propose(&start.ask());
    assert_eq!(placed(&made), [["Max Bell", "Zoe Bell"], ["Bo Bell", "Ida Bell"]]);
    // At "d" Zoe meets d and "the" again, at "m" Ida m and o: four. Cut by place, Bo and Ida come first and both
    // who are in Ants leave it: as much, and eight for the changes.
    assert_eq!(
        made["figures"],
        json!({"pupils": 4, "groups": 2, "moves": 2, "cost": 4, "bound": 4, "gap_per_mille": 0,
               "by_place": 12, "as_now": null})
    );
    let next =
        |n: usize| (text(&made["groups"][n]["next"]["title"]), made["groups"][n]["next"]["place"].clone());
    assert_eq!(next(0), ("d".into(), json!({"step": 1, "lesson": 2})));
    assert_eq!(next(1), ("m and o".into(), json!({"step": 1, "lesson": 1})));
    let why = |name: &str| {
        let pupil = pupil(&made, name);
        ["moves", "to_catch_up", "brings", "met_again", "instead"].map(|field| pupil[field].clone())
    };
    let all = json!(["m /m/", "o /ɒ/", "d /d/", "the", "e /e/", "n /n/"]);
    // Foxes start where Zoe would meet four again, and she would change: 4 + 4, less the two here.
    let foxes = json!({"group": 1, "name": "Foxes", "more": 6});
    let zoe = [json!(false), json!([]), json!(["e /e/", "n /n/"]), json!(["d /d/", "the"]), foxes];
    assert_eq!(why("Zoe"), zoe);
    let foxes = json!({"group": 1, "name": "Foxes", "more": 6});
    let max = [json!(false), json!([]), json!(["d /d/", "the", "e /e/", "n /n/"]), json!([]), foxes];
    assert_eq!(why("Max"), max);
    // Ants are full.
    let bo = [json!(true), json!([]), all.clone(), json!([]), Value::Null];
    let (rest, back) = (json!(["d /d/", "the", "e /e/", "n /n/"]), json!(["m /m/", "o /ɒ/"]));
    let ida = [json!(true), json!([]), rest, back, Value::Null];
    assert_eq!((why("Bo"), why("Ida")), (bo, ida));
    assert_eq!(json!(column(&made["items"], "label")), all);
    let stands = json!([made["stale"], made["accepted"], made["beside"]]);
    assert_eq!(stands, json!([false, null, []]));
    // What was known on the day counts.
    let mut ask = start.ask();
    ask["as_of"] = json!("2026-11-09");
    let earlier = start.propose(&ask);
    assert_eq!(pupil(&earlier, "Zoe")["met_again"], json!(["d /d/", "the"]), "d was right so far by then");
    ask["as_of"] = json!("2026-11-26");
    assert_eq!(start.refused(&ask), ["as_of: 2026-11-26 is in the future"]);
}

#[test]
fn what_an_adult_says_is_kept_and_two_proposals_are_compared() {
    let start = start();
    let (made, mut ask) = (start.propose(&start.ask()), start.ask());
    ask["pins"] = json!([{"pupil_id": start.pupils["Max"], "group": 1}]);
    let pinned = start.propose(&ask);
    assert_eq!(placed(&pinned), [["Ida Bell", "Zoe Bell"], ["Bo Bell", "Max Bell"]]);
    assert_eq!(pupil(&pinned, "Max")["pinned"], true);
    // A change, m and o again for him, d and "the" for Zoe; as good as Ida with him, for whom they come again then.
    assert_eq!((&pinned["figures"]["cost"], &pinned["groups"][0]["next"]["title"]), (&json!(8), &json!("d")));
    // In which order they are named decides nothing.
    ask["pupil_ids"].as_array_mut().unwrap().reverse();
    assert_eq!(placed(&start.propose(&ask)), placed(&pinned));
    let lead = start.school.lead();
    let compare = |one: &Value, other: &Value| {
        lead.get(&format!("{PATH}/{}/compare?with={}", text(&one["id"]), text(&other["id"])))
    };
    let side = compare(&made, &pinned).expect(200);
    assert_eq!((&side["here"]["figures"]["cost"], &side["there"]["figures"]["cost"]), (&json!(4), &json!(8)));
    let ants = json!({"group_id": start.ants, "name": "Ants", "to_catch_up": 0, "met_again": 0});
    let foxes = json!({"group_id": null, "name": "Foxes", "to_catch_up": 0, "met_again": 2});
    let of = |name: &str, here: &Value, there: &Value| json!({"id": start.pupils[name], "name": format!("{name} Bell"), "apart": null, "here": here, "there": there});
    assert_eq!(side["elsewhere"], json!([of("Ida", &foxes, &ants), of("Max", &ants, &foxes)]));
    assert_eq!(compare(&made, &made).expect(200)["elsewhere"], json!([]));
    let none = compare(&made, &json!({"id": start.ants})).problem(422, "invalid");
    assert_eq!(none, ["with: is no proposal of this school"]);
    lead.get(&format!("{PATH}/{}/compare", text(&made["id"]))).problem(422, "invalid");
    // Removed, it is gone for everything.
    lead.call("DELETE", &format!("{PATH}/{}", text(&made["id"])), None).expect(204);
    lead.call("DELETE", &format!("{PATH}/{}", text(&made["id"])), None).problem(404, "not_found");
    compare(&made, &pinned).problem(404, "not_found");
    start.accept(&made, "2026-11-30").problem(404, "not_found");
}

#[test]
fn what_contradicts_is_named_on_both_sides() {
    let start = start();
    let with = |change: &dyn Fn(&mut Value)| {
        let mut ask = start.ask();
        change(&mut ask);
        start.refused(&ask)
    };
    let (zoe, max) = (&start.pupils["Zoe"], &start.pupils["Max"]);
    assert_eq!(
        with(&|ask| {
            ask["together"] = json!([[zoe, max]]);
            ask["apart"] = json!([[max, zoe]]);
        }),
        ["together[0]: keeps pupils together that apart[0] keeps apart"]
    );
    assert_eq!(
        with(&|ask| {
            ask["apart"] = json!([[zoe, max]]);
            ask["pins"] = json!([{"pupil_id": zoe, "group": 1}, {"pupil_id": max, "group": 1}]);
        }),
        ["apart[0]: pins[0] and pins[1] place two of them in one group"]
    );
    assert_eq!(
        with(&|ask| ask["groups"][1]["most"] = json!(1)),
        ["groups: hold 3 pupils at most, and there are 4"]
    );
    let teacher = start.school.staff_id("teacher:2");
    assert_eq!(
        with(&|ask| {
            let foxes = &ask["groups"][1];
            let owls =
                json!({"name": "Owls", "staff_id": teacher, "room": foxes["room"], "least": 0, "most": 9});
            ask["groups"].as_array_mut().unwrap().push(owls);
        }),
        [
            "groups[2].staff_id: takes Foxes at the same time",
            "groups[2].room: is the room of Foxes at the same time"
        ]
    );
    // What is not the school's is told apart from what cannot be.
    assert_eq!(
        with(&|ask| ask["groups"][0]["name"] = json!("Wasps")),
        ["groups[0].name: the group is called Ants"]
    );
    assert_eq!(
        with(&|ask| ask["pupil_ids"] = json!([zoe, start.ants])),
        ["pupil_ids[1]: is not a pupil of this school today"]
    );
    let stranger = with(&|ask| ask["sequence_id"] = json!(start.ants));
    assert_eq!(stranger, ["sequence_id: is not a sequence of this school"]);
    let unpublished = with(&|ask| ask["as_of"] = json!("2026-08-31"));
    assert_eq!(unpublished, ["sequence_id: has no published version in force on that day"]);
}

#[test]
fn accepted_from_a_day_on_the_days_before_stay() {
    let start = start();
    let made = start.propose(&start.ask());
    let accepted = start.accept(&made, "2026-11-30").expect(200);
    let foxes = text(&accepted["groups"][1]["id"]);
    let lines = accepted["groups"].as_array().unwrap();
    let line = |n: usize| {
        [&lines[n]["name"], &lines[n]["new"], &lines[n]["pupils"], &lines[n]["sequence_id"]].map(Value::clone)
    };
    assert_eq!(line(0), [json!("Ants"), json!(false), json!(2), json!(start.sequence)]);
    assert_eq!(line(1), [json!("Foxes"), json!(true), json!(2), json!(start.sequence)]);
    for (group, before, from) in [
        (&start.ants, vec!["Max Bell", "Zoe Bell"], vec!["Max Bell", "Zoe Bell"]),
        (&foxes, vec![], vec!["Bo Bell", "Ida Bell"]),
        (&start.bees, vec!["Ida Bell"], vec![]),
    ] {
        assert_eq!(start.members(group, "2026-11-29"), before);
        assert_eq!(start.members(group, "2026-11-30"), from);
    }
    let lead = start.school.lead();
    let ants = lead.get(&format!("/groups/{}?on=2026-11-30", start.ants)).expect(200);
    // Who stays stays from the first day on, and a group there is keeps its adult.
    assert_eq!(ants["members"][1]["from"], "2026-09-01");
    assert_eq!(column(&ants["adults"], "staff_id"), [start.school.staff_id("teacher")]);
    let adults = lead.get(&format!("/groups/{foxes}")).expect(200)["adults"].clone();
    let adult = |field: &str| text(&adults[0][field]);
    assert_eq!((adult("staff_id"), adult("from")), (start.school.staff_id("teacher:2"), "2026-11-30".into()));
    // The place is by records: a group to be made begins at the beginning.
    assert_eq!(start.school.next_lesson(&foxes).0, "m and o");
    // Once is enough.
    start.accept(&made, "2026-12-07").problem(409, "conflict");
    let read = lead.get(&format!("{PATH}/{}", text(&made["id"]))).expect(200);
    assert_eq!(read["accepted"], json!({"on": "2026-11-30", "group_ids": [start.ants, foxes]}));
}

#[test]
fn a_proposal_of_another_school_than_it_is_now_is_refused() {
    let start = start();
    let lead = start.school.lead();
    let stale = |made: &Value| {
        assert_eq!(lead.get(&format!("{PATH}/{}", text(&made["id"]))).expect(200)["stale"], true);
        start.accept(made, "2026-11-30").problem(409, "group_proposal_stale");
    };
    let ants = format!("/groups/{}", start.ants);
    // A group was changed; somebody placed came into a group named nowhere, or was given a last day.
    let made = start.propose(&start.ask());
    lead.patch(&ants, &lead.get(&ants).etag(), json!({"name": "Emmets"})).expect(200);
    stale(&made);
    lead.patch(&ants, &lead.get(&ants).etag(), json!({"name": "Ants"})).expect(200);
    let made = start.propose(&start.ask());
    let owls = start.school.group("Owls", &start.sequence, &[&start.pupils["Bo"]]);
    stale(&made);
    let made = start.propose(&start.ask());
    assert_eq!(made["beside"], json!([{"id": owls, "name": "Owls", "pupils": 1}]));
    let zoe = format!("/pupils/{}", start.pupils["Zoe"]);
    lead.patch(&zoe, &lead.get(&zoe).etag(), json!({"left_on": "2026-11-27"})).expect(200);
    stale(&made);
    // Known before, who has left by the day is in no group, and the others are.
    let made = start.propose(&start.ask());
    let accepted = start.accept(&made, "2026-11-30").expect(200);
    assert_eq!(accepted["groups"][0]["pupils"], 1);
    assert_eq!(start.members(&start.ants, "2026-11-27"), ["Max Bell", "Zoe Bell"]);
    assert_eq!(start.members(&start.ants, "2026-11-30"), ["Max Bell"]);
    // Nobody said that Owls are to be left.
    assert_eq!(start.members(&owls, "2026-11-30"), ["Bo Bell"]);
    // Nothing of a refused one was written.
    let names = column(&lead.get("/groups").expect(200)["items"], "name");
    assert_eq!(names, ["Ants", "Bees", "Foxes", "Owls"]);
    // Somebody is to come into a group that is filled: placed like the others, and not lost.
    let members = json!({"from": "2026-12-07", "pupil_ids": [start.pupils["Max"], start.pupils["Bo"]]});
    lead.put(&format!("{ants}/members"), &lead.get(&ants).etag(), members).expect(200);
    let mut ask = start.ask();
    ask["pupil_ids"] = json!([]);
    ask["groups"] = json!([{"group_id": start.ants, "name": "Ants", "least": 0, "most": 9}]);
    assert_eq!(placed(&start.propose(&ask)), [["Bo Bell", "Max Bell", "Zoe Bell"]]);
}

#[test]
fn a_day_that_is_over_is_taken_while_nothing_was_taught_since() {
    let start = start();
    let made = start.propose(&start.ask());
    let refused = |on: &str| start.accept(&made, on).problem(422, "invalid");
    assert_eq!(refused("2026-11-03"), ["on: lessons are recorded up to 2026-11-03: choose a later day"]);
    let no_year = ["on: lies in neither this school year nor the next"];
    for on in ["2026-08-31", "2028-09-01"] {
        assert_eq!(refused(on), no_year);
    }
    assert_eq!(refused("2027-09-01"), ["on: is in no school year of the calendar"]);
    assert_eq!(start.members(&start.ants, "2026-11-25"), ["Max Bell", "Zoe Bell"]);
    start.accept(&made, "2026-11-04").expect(200);
    assert_eq!(start.members(&start.bees, "2026-11-03"), ["Ida Bell"]);
    assert_eq!(start.members(&start.bees, "2026-11-04"), Vec::<String>::new());
    let lead = start.school.lead();
    let half_term = text(&lead.get("/school-years").expect(200)["items"][0]["half_terms"][1]["id"]);
    let report = lead.get(&format!("/reports/attainment?half_term_id={half_term}")).expect(200);
    assert_eq!(report["school"]["pupils"], 4, "each counts once");
    // A group whose last day comes before.
    let ants = format!("/groups/{}", start.ants);
    lead.with("If-Match", &lead.get(&ants).etag())
        .post(&format!("{ants}/close"), json!({"on": "2026-12-18"}))
        .expect(204);
    let mut ask = start.ask();
    ask["groups"][1]["name"] = json!("Owls");
    let made = start.propose(&ask);
    assert_eq!(
        start.accept(&made, "2027-01-04").problem(422, "invalid"),
        ["on: the last day of Ants is 2026-12-18"]
    );
    start.accept(&made, "2026-12-18").expect(200);
    assert_eq!(start.members(&start.ants, "2026-12-19"), Vec::<String>::new());
}

#[test]
fn mixed_ages_learn_together_unless_a_group_is_for_some() {
    let start = start();
    let lead = start.school.lead();
    let older = json!({"given_name": "Kit", "family_name": "Bell", "year_group": "Year 2"});
    let kit = text(&lead.post("/pupils", older).expect(201)["id"]);
    let mut ask = json!({"sequence_id": start.sequence, "pupil_ids": [kit, start.pupils["Bo"]], "leave": [],
        "groups": [{"name": "Foxes", "least": 0, "most": 2}, {"name": "Owls", "least": 0, "most": 2}]});
    // Neither was taught anything: both start at the beginning wherever they are, at no cost.
    assert_eq!(start.propose(&ask)["figures"]["cost"], 0);
    ask["groups"][0]["year_groups"] = json!(["year_1"]);
    ask["groups"][1]["year_groups"] = json!(["year_2"]);
    let made = start.propose(&ask);
    assert_eq!(placed(&made), [["Bo Bell"], ["Kit Bell"]]);
    ask["groups"].as_array_mut().unwrap().pop();
    assert_eq!(start.refused(&ask), [format!("groups: none is for the year group of pupil {kit}")]);
    // Named by year group, class and id, each is placed once; a group of nobody is one too.
    let everyone = json!({"sequence_id": start.sequence, "pupil_ids": [kit], "year_groups": ["year_1", "year_2"],
        "groups": [{"name": "Foxes", "least": 5, "most": 5}, {"name": "Owls", "least": 0, "most": 2}]});
    let made = start.propose(&everyone);
    assert_eq!((&made["figures"]["pupils"], &made["groups"][1]["pupils"]), (&json!(5), &json!([])));
    assert_eq!(made["groups"][1]["next"], Value::Null);
    let accepted = start.accept(&made, "2026-11-30").expect(200);
    assert_eq!(accepted["groups"][1]["pupils"], 0);
}

#[test]
fn who_looked_is_logged_and_nothing_is_kept_beyond_its_time() {
    let mut start = start();
    let lead = start.school.lead().with("Idempotency-Key", "groups of November");
    let ask = start.ask();
    let made = lead.post(PATH, ask.clone()).expect(201);
    assert_eq!(lead.post(PATH, ask).expect(201), made, "done once");
    let lead = start.school.lead();
    let list = lead.get(PATH).expect(200);
    assert_eq!(
        (column(&list["items"], "id"), list.to_string().contains("Zoe")),
        (vec![text(&made["id"])], false)
    );
    assert_eq!(list["items"][0]["kept_until"].as_str().unwrap()[..10], *"2026-12-23");
    let path = format!("{PATH}/{}", text(&made["id"]));
    assert_eq!(lead.get(&path).expect(200), made);
    lead.get(&format!("{path}/compare?with={}", text(&made["id"]))).expect(200);
    assert_eq!(
        start.operations()[..3],
        ["group_proposal.compare", "group_proposal.read", "group_proposal.create"].map(String::from)
    );
    for role in ["teacher", "assistant", "cover", "head", "office"] {
        let client = start.school.staff(role);
        for path in [PATH, &path] {
            client.get(path).problem(403, "forbidden");
        }
        client.post(&format!("{path}/accept"), json!({"on": "2026-11-30"})).problem(403, "forbidden");
    }
    start.school.server.stop_and_restart("2026-12-24");
    let signed_in = start.school.sign_in("lead@farholt.example");
    let lead = start.school.nobody().with_token(signed_in["access_token"].as_str().unwrap());
    lead.get(&path).problem(404, "not_found");
    assert_eq!(lead.get(PATH).expect(200)["items"], json!([]));
    let log = column(&lead.get("/audit-entries").expect(200)["items"], "operation");
    assert!(log.contains(&"group_proposal.drop".to_owned()), "{log:?}");
}
