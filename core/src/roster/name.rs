//! How a pupil's name is shown: the preferred name everywhere, and what tells two apart.

use std::collections::BTreeMap;

/// Preferred name before the family name, given name where none is preferred. Whichever part is
/// missing is left out, and nothing stands in for it.
pub fn shown_name(given: &str, family: Option<&str>, preferred: Option<&str>) -> String {
    let parts = [preferred.unwrap_or(given), family.unwrap_or_default()];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

/// For every name that stands more than once in a list, what tells its bearers apart: of what is
/// known of each (the label staff chose, the class, the birthday, the year of birth), the first, or
/// as many as it takes. Never a pupil number. `None` where the name is alone.
pub fn distinguish<const N: usize>(list: &[(String, [Option<String>; N])]) -> Vec<Option<String>> {
    let mut bearers: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (n, (name, _)) in list.iter().enumerate() {
        bearers.entry(crate::text::search_key(name)).or_default().push(n);
    }
    let mut marks = vec![None; list.len()];
    for bearers in bearers.values().filter(|bearers| bearers.len() > 1) {
        for marked in 1..=N {
            let mark =
                |n: usize| list[n].1[..marked].iter().flatten().cloned().collect::<Vec<_>>().join(", ");
            let distinct: std::collections::BTreeSet<String> = bearers.iter().map(|n| mark(*n)).collect();
            for n in bearers {
                marks[*n] = Some(mark(*n)).filter(|mark| !mark.is_empty());
            }
            if distinct.len() == bearers.len() {
                break;
            }
        }
    }
    marks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn preferred_names_come_first() {
        assert_eq!(shown_name("Aleksandra", Some("Nowak"), Some("Ola")), "Ola Nowak");
        assert_eq!(shown_name("Sukarno", None, None), "Sukarno");
    }

    #[test]
    fn namesakes_carry_what_tells_them_apart() {
        let line = |name: &str, label: Option<&str>, class: &str, born: &str| {
            (name.to_owned(), [label.map(str::to_owned), Some(class.to_owned()), Some(born.to_owned())])
        };
        let list = [
            line("Maya Okafor", None, "Alder", "3 May"),
            line("Sam Reed", None, "Alder", "9 June"),
            line("maya okafor", None, "Rowan", "4 July"),
            line("Leo Hart", Some("plays flute"), "Alder", "1 May"),
            line("Leo Hart", None, "Alder", "2 May"),
            line("Zoe Bell", None, "Alder", "7 May"),
            line("Zoë Bell", None, "Alder", "8 May"),
        ];
        let marks = distinguish(&list);
        assert_eq!(marks[0].as_deref(), Some("Alder"));
        assert_eq!(marks[1], None);
        assert_eq!(marks[2].as_deref(), Some("Rowan"));
        assert_eq!(marks[3].as_deref(), Some("plays flute"));
        assert_eq!(marks[5].as_deref(), Some("Alder, 7 May"));
        assert_eq!(marks[6].as_deref(), Some("Alder, 8 May"));
        // Nothing tells the last two apart: staff give one of them a label.
        let list = ["2019", "2020", "2020"]
            .map(|year| ("Max Reed".to_owned(), [Some("3 May"), Some(year)].map(|m| m.map(str::to_owned))));
        let marks = distinguish(&list);
        assert_eq!(marks, ["3 May, 2019", "3 May, 2020", "3 May, 2020"].map(|mark| Some(mark.to_owned())));
    }
}
