//! The OpenAPI document: its operations, and whether a value is what a schema says.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

/// An OpenAPI document.
#[derive(Clone)]
pub struct Document(pub Value);

/// An operation of the document.
#[derive(Clone, Copy)]
pub struct Operation<'a> {
    /// GET, POST ...
    pub method: &'a str,
    /// The path's template.
    pub path: &'a str,
    /// What the document says about it.
    pub json: &'a Value,
}

impl Operation<'_> {
    /// Its id.
    pub fn id(&self) -> &str {
        self.json["operationId"].as_str().unwrap_or_default()
    }
}

impl Document {
    /// Every operation, by path and method.
    pub fn operations(&self) -> Vec<Operation<'_>> {
        let paths = self.0["paths"].as_object().unwrap();
        paths
            .iter()
            .flat_map(|(path, methods)| {
                let methods = methods.as_object().unwrap();
                methods.iter().map(move |(method, json)| Operation { method, path, json })
            })
            .collect()
    }

    /// The operation with this id.
    pub fn operation(&self, id: &str) -> Operation<'_> {
        self.operations().into_iter().find(|operation| operation.id() == id).unwrap()
    }

    /// What a reference stands for, the rest as it is.
    pub fn resolve<'a>(&'a self, schema: &'a Value) -> &'a Value {
        match schema["$ref"].as_str() {
            Some(to) => {
                let path = to.strip_prefix('#').unwrap_or_else(|| panic!("{to} is not of this document"));
                let found = self.0.pointer(path).unwrap_or_else(|| panic!("{to} leads nowhere"));
                self.resolve(found)
            }
            None => schema,
        }
    }

    /// How a value differs from a schema, one line each: strictly, so that a property the
    /// schema does not name is a difference.
    pub fn differences(&self, schema: &Value, value: &Value) -> Vec<String> {
        let mut found = Vec::new();
        self.compare(schema, value, "$", &mut found);
        found
    }

    fn compare(&self, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
        let schema = self.resolve(schema);
        for key in ["oneOf", "anyOf"] {
            if let Some(choices) = schema[key].as_array() {
                let tried: Vec<Vec<String>> = choices
                    .iter()
                    .map(|choice| {
                        let mut found = Vec::new();
                        self.compare(choice, value, at, &mut found);
                        found
                    })
                    .collect();
                if !tried.iter().any(Vec::is_empty) {
                    found.push(format!("{at} is none of its choices: {tried:?}"));
                }
                return;
            }
        }
        let types = match &schema["type"] {
            Value::String(one) => vec![one.as_str()],
            Value::Array(several) => several.iter().filter_map(Value::as_str).collect(),
            _ => vec![],
        };
        if !types.is_empty() && !types.iter().any(|name| is_a(name, value)) {
            found.push(format!("{at} is {value}, not {types:?}"));
            return;
        }
        if let Some(words) = schema["enum"].as_array()
            && !words.contains(value)
        {
            found.push(format!("{at} is {value}, not one of {words:?}"));
        }
        match value {
            Value::Object(fields) => {
                let (properties, required) = self.fields(schema);
                for (name, field) in fields {
                    match properties.get(name) {
                        Some(schema) => self.compare(schema, field, &format!("{at}.{name}"), found),
                        // A map says what each of its values is; what says nothing of itself may be anything.
                        None if schema["additionalProperties"].is_object() => {
                            let each = &schema["additionalProperties"];
                            self.compare(each, field, &format!("{at}.{name}"), found);
                        }
                        None if properties.is_empty() => {}
                        None => found.push(format!("{at}.{name} is no property")),
                    }
                }
                let missing = required.iter().filter(|name| !fields.contains_key(*name));
                found.extend(missing.map(|name| format!("{at}.{name} is missing")));
            }
            Value::Array(items) => {
                for (n, item) in items.iter().enumerate() {
                    self.compare(&schema["items"], item, &format!("{at}[{n}]"), found);
                }
            }
            Value::String(text) => check_text(schema, text, at, found),
            Value::Number(number)
                if schema["minimum"].as_f64().is_some_and(|least| number.as_f64().unwrap() < least) =>
            {
                found.push(format!("{at} is {number}, below the minimum"));
            }
            _ => {}
        }
    }

    /// Properties and required names, those of all parts of an `allOf` together.
    fn fields<'a>(&'a self, schema: &'a Value) -> (BTreeMap<String, &'a Value>, BTreeSet<String>) {
        let schema = self.resolve(schema);
        let mut properties: BTreeMap<String, &Value> = BTreeMap::new();
        if let Some(own) = schema["properties"].as_object() {
            properties.extend(own.iter().map(|(name, schema)| (name.clone(), schema)));
        }
        let mut required: BTreeSet<String> = schema["required"]
            .as_array()
            .map(|names| names.iter().filter_map(Value::as_str).map(str::to_owned).collect())
            .unwrap_or_default();
        for part in schema["allOf"].as_array().into_iter().flatten() {
            let (more, names) = self.fields(part);
            properties.extend(more);
            required.extend(names);
        }
        (properties, required)
    }
}

fn is_a(name: &str, value: &Value) -> bool {
    match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "integer" => value.is_i64() || value.is_u64(),
        "number" => value.is_number(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        other => panic!("type {other}"),
    }
}

fn check_text(schema: &Value, text: &str, at: &str, found: &mut Vec<String>) {
    let right = match schema["format"].as_str() {
        Some("uuid") => uuid::Uuid::parse_str(text).is_ok(),
        Some("date") => text.parse::<chrono::NaiveDate>().is_ok(),
        Some("date-time") => text.parse::<chrono::DateTime<chrono::Utc>>().is_ok(),
        Some("email") => text.contains('@'),
        None => true,
        Some(other) => panic!("{at} has format {other}"),
    };
    if !right {
        found.push(format!("{at} is {text:?}, not a {}", schema["format"]));
    }
    let length = text.chars().count() as u64;
    if schema["minLength"].as_u64().is_some_and(|least| length < least)
        || schema["maxLength"].as_u64().is_some_and(|most| length > most)
    {
        found.push(format!("{at} is {length} characters long"));
    }
}
