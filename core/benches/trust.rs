//! Schools of a trust side by side: 50 and 20,000 of them, each with a release of three measures by two year groups, one of
//! 16 sequences. Read as JSON, as the store keeps it, and compared.
//! `cargo bench -p plumbline-core --bench trust`
#![allow(clippy::unwrap_used)]

use divan::{Bencher, black_box};
use plumbline_core::{
    id::SchoolId,
    rules::pack,
    trust::{Member, Shared, compare},
};
use serde_json::{Value, json};
use uuid::Uuid;

const SCHOOLS: [u128; 2] = [50, 20_000];

fn main() {
    divan::main();
}

fn body(n: u128) -> String {
    let row = |name: Option<&str>, met: u128| {
        json!({"by": name.map(|_| "year_group"), "name": name, "symbol": null, "pupils": 60, "not_known": null, "met": met,
               "percent": {"percent": met * 100 / 60, "is": "about"}, "interval": [480, 750]})
    };
    let table = |measure: &str| {
        let rows =
            [row(None, 20 + n % 30), row(Some("Reception"), 10 + n % 40), row(Some("Year 1"), 5 + n % 50)];
        json!({"measure": measure, "name": measure, "means": "80 in 100", "rows": rows})
    };
    let tables: Vec<Value> = ["gpcs", "words", "statutory"].into_iter().map(table).collect();
    json!({
        "school_id": Uuid::from_u128(n), "release_id": Uuid::from_u128(n), "school_year": 2026,
        "sequences": [format!("{:064x}", n % 16)], "maps_on": null,
        "release": {
            "audience": "closed", "as_of": "2026-12-18", "school": "A school", "half_term": "Autumn 2",
            "secure_means": {"right_on_days": 3, "days_after_teaching": 7, "carried_in_days": 1},
            "versions": [{"version_id": Uuid::from_u128(n), "sequence": "Ours", "number": 1}], "cautions": [],
            "tables": tables, "symbols": []
        }
    })
    .to_string()
}

fn bodies(schools: u128) -> Vec<String> {
    (1..=schools).map(body).collect()
}

fn read(bodies: &[String]) -> Vec<Shared> {
    bodies.iter().map(|body| serde_json::from_str(body).unwrap()).collect()
}

#[divan::bench(args = SCHOOLS, sample_count = 11)]
fn read_as_kept(bencher: Bencher<'_, '_>, schools: u128) {
    let bodies = bodies(schools);
    bencher.bench(|| read(black_box(&bodies)).len());
}

#[divan::bench(args = SCHOOLS, sample_count = 11)]
fn side_by_side(bencher: Bencher<'_, '_>, schools: u128) {
    let shared = read(&bodies(schools));
    let member =
        |n| Member { school_id: SchoolId::from_uuid(Uuid::from_u128(n)), name: format!("School {n:05}") };
    let members: Vec<Member> = (1..=schools).map(member).collect();
    let rules = pack("england").unwrap();
    let seen = compare((2026, "Autumn 2"), &members, &shared, rules);
    assert_eq!(seen.sequences.iter().map(|list| list.schools.len()).sum::<usize>(), members.len());
    bencher.bench(|| compare((2026, "Autumn 2"), black_box(&members), &shared, rules));
}
