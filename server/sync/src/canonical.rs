//! The one text of a JSON value that is hashed: names in the order of their bytes, no space, numbers as the
//! shortest that reads back the same.
//!
//! Invariant: it follows from the value alone. How the JSON library keeps the names of an object may be
//! changed by any dependency that turns on a feature of it; then a phone that sends again what was
//! acknowledged would be told that another had used its numbers.

use serde_json::{Number, Value};

pub fn text(value: &Value) -> String {
    let mut out = String::new();
    write(&mut out, value);
    out
}

fn write(out: &mut String, value: &Value) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(yes) => out.push_str(if *yes { "true" } else { "false" }),
        Value::Number(number) => out.push_str(&plain(number)),
        Value::String(text) => quoted(out, text),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                out.push_str(if i == 0 { "" } else { "," });
                write(out, item);
            }
            out.push(']');
        }
        Value::Object(members) => {
            let mut members: Vec<(&String, &Value)> = members.iter().collect();
            members.sort_unstable_by_key(|(name, _)| *name);
            out.push('{');
            for (i, (name, value)) in members.into_iter().enumerate() {
                out.push_str(if i == 0 { "" } else { "," });
                quoted(out, name);
                out.push(':');
                write(out, value);
            }
            out.push('}');
        }
    }
}

/// However it was typed: `1.50` and `1.5` are one number.
fn plain(number: &Number) -> String {
    match (number.as_u64(), number.as_i64(), number.as_f64().and_then(Number::from_f64)) {
        (Some(whole), ..) => whole.to_string(),
        (_, Some(whole), _) => whole.to_string(),
        (.., Some(float)) => float.to_string(),
        _ => number.to_string(),
    }
}

/// RFC 8259, section 7: what must be escaped, in its shortest form.
fn quoted(out: &mut String, text: &str) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\u{c}' => out.push_str("\\f"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if c < ' ' => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use sha2::{Digest, Sha256};

    use super::*;

    /// Digests that stand in logs, reckoned by another program. They are promises: what was acknowledged
    /// under one is known by it when it comes again.
    #[test]
    fn digests_are_what_they_were() {
        let vectors = include_str!("../../../tests/vectors/digests/operations.json");
        let vectors: Vec<Value> = serde_json::from_str(vectors).unwrap();
        assert!(!vectors.is_empty());
        for vector in vectors {
            let text = text(&vector["op"]);
            assert_eq!(hex::encode(&Sha256::digest(&text)[..16]), vector["digest"], "{text}");
        }
    }

    #[test]
    fn numbers_are_told_by_what_they_are() {
        let typed: Value = serde_json::from_str("[1.50, 1e3, -0, 18446744073709551615, -7, 1e-7]").unwrap();
        assert_eq!(text(&typed), "[1.5,1000.0,-0.0,18446744073709551615,-7,1e-7]");
    }

    /// Built from the last name to the first, as an object comes that keeps the order of its text.
    #[test]
    fn the_order_of_names_is_not_told() {
        let mut backwards = serde_json::Map::new();
        for name in ["b", "ab", "a", "B"] {
            backwards.insert(name.into(), json!(name));
        }
        assert_eq!(text(&Value::Object(backwards)), r#"{"B":"B","a":"a","ab":"ab","b":"b"}"#);
    }
}
