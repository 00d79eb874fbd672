//! The canonical text of a JSON value, which is what is hashed: names in byte order, no white space, each
//! number in the shortest form that reads back the same.
//!
//! Invariant: it follows from the value alone. Any dependency can change the order in which the JSON library
//! keeps names by turning on one of its features; a phone that resends an acknowledged operation would then be
//! told that another phone had used its counters.

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

/// The same number however it was typed: `1.50` is `1.5`.
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

    /// Digests as they stand in logs, computed by another program. They are promises: a resent operation is
    /// recognised by its digest.
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

    /// Built from the last name to the first, to show that the order of the text does not matter.
    #[test]
    fn the_order_of_names_is_not_told() {
        let mut backwards = serde_json::Map::new();
        for name in ["b", "ab", "a", "B"] {
            backwards.insert(name.into(), json!(name));
        }
        assert_eq!(text(&Value::Object(backwards)), r#"{"B":"B","a":"a","ab":"ab","b":"b"}"#);
    }
}
