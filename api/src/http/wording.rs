//! Complaints of parsers in words for a person who filled in a form.

/// A complaint without what says nothing to such a person: places in a line, names of types. What
/// was typed is left out too, which may be a child's name.
pub fn for_a_person(message: &str) -> String {
    for (start, said) in WHOLE {
        if message.starts_with(start) {
            return (*said).to_owned();
        }
    }
    let message = message.rsplit_once(" at line ").map_or(message, |(message, _)| message);
    if let Some((_, expected)) =
        message.strip_prefix("unknown variant `").and_then(|rest| rest.rsplit_once("`, expected "))
    {
        return format!("expected {expected}");
    }
    let Some((found, expected)) = message.rsplit_once(", expected ") else { return message.to_owned() };
    let found = FOUND.iter().find(|(start, _)| found.starts_with(start)).map(|(_, found)| *found);
    match (found, thing(expected)) {
        (Some(found), Some(thing)) => format!("expected {thing}, found {found}"),
        (Some(found), None) => format!("expected {expected}, found {found}"),
        (None, _) => message.to_owned(),
    }
}

/// Complaints that are said whole.
const WHOLE: &[(&str, &str)] = &[
    ("UUID parsing failed", "is not an id"),
    ("input contains invalid characters", "is not a date; write 2026-09-01"),
    ("premature end of input", "is not a date; write 2026-09-01"),
    ("input is out of range", "is not a date; write 2026-09-01"),
    ("trailing input", "is not a date; write 2026-09-01"),
    ("invalid digit found in string", "must be a whole number, 0 or more"),
    ("cannot parse integer from empty string", "must be a whole number, 0 or more"),
    ("number too large to fit in target type", "is too large"),
    ("number too small to fit in target type", "is too small"),
    ("invalid float literal", "must be a number"),
    ("cannot parse float from empty string", "must be a number"),
    ("provided string was not `true` or `false`", "must be true or false"),
];

/// What was found instead.
const FOUND: &[(&str, &str)] = &[
    ("invalid type: string", "text"),
    ("invalid value: string", "other text"),
    ("invalid type: null", "null"),
    ("invalid type: boolean", "true or false"),
    ("invalid type: integer", "a number"),
    ("invalid value: integer", "a number out of range"),
    ("invalid type: floating point", "a number with decimals"),
    ("invalid value: floating point", "a number out of range"),
    ("invalid type: sequence", "a list"),
    ("invalid length", "a list of another length"),
    ("invalid type: map", "an object"),
    ("invalid type: unit", "nothing"),
];

/// What a type is to a person; none where the complaint says it well.
fn thing(expected: &str) -> Option<String> {
    Some(match expected {
        "u8" => "a whole number from 0 to 255".into(),
        "u16" => "a whole number from 0 to 65535".into(),
        "u32" | "u64" | "usize" => "a whole number, 0 or more".into(),
        "i8" | "i16" | "i32" | "i64" | "isize" => "a whole number".into(),
        "f32" | "f64" => "a number".into(),
        "a sequence" => "a list".into(),
        "a map" => "an object".into(),
        "a string" | "a borrowed string" | "str" => "text".into(),
        "a boolean" | "bool" => "true or false".into(),
        "option" | "unit" => "nothing".into(),
        other if other.starts_with("struct ") => "an object".into(),
        other if other.starts_with("a tuple of size ") => format!("a list of {}", &other[16..]),
        other if other.contains("enum ") => "one of the words of the documentation".into(),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::for_a_person;

    #[test]
    fn types_are_named_as_a_person_would() {
        for (message, said) in [
            (
                "invalid type: string \"x\", expected u16 at line 1 column 9",
                "expected a whole number from 0 to 65535, found text",
            ),
            (
                "invalid value: integer `-1`, expected usize",
                "expected a whole number, 0 or more, found a number out of range",
            ),
            ("invalid type: map, expected a sequence at line 1 column 4", "expected a list, found an object"),
            (
                "invalid type: string \"x\", expected struct Accent at line 2 column 3",
                "expected an object, found text",
            ),
            ("invalid type: null, expected a string", "expected text, found null"),
            ("invalid digit found in string", "must be a whole number, 0 or more"),
            (
                "unknown field `rol`, expected `role` or `name` at line 1 column 2",
                "unknown field `rol`, expected `role` or `name`",
            ),
            ("missing field `name` at line 1 column 2", "missing field `name`"),
        ] {
            assert_eq!(for_a_person(message), said);
        }
    }

    #[test]
    fn what_was_typed_is_not_repeated() {
        for (message, said) in [
            (
                "invalid type: string \"Zoe, expected Bell\", expected u8 at line 1 column 9",
                "expected a whole number from 0 to 255, found text",
            ),
            (
                "unknown variant `Zoe`, expected `, expected one of `a`, `b` at line 1 column 9",
                "expected one of `a`, `b`",
            ),
        ] {
            assert_eq!(for_a_person(message), said);
        }
    }
}
