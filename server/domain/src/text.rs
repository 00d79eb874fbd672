//! Free text stands beside the log, not in it.
//!
//! Before an entry is stored, every string in a field that holds free text is replaced by a salted
//! digest; the chain hashes the digest. The text itself is a payload of the control journal and can be
//! removed there, and the chain still verifies.
//!
//! Invariant: a field of a stored type that people type into is named in [`FREE_TEXT`], and no other
//! field has one of these names.

use serde_json::{Map, Value, json};

/// The fields that people type into, wherever they stand in an entry.
pub const FREE_TEXT: [&str; 11] =
    ["text", "es", "name", "note", "not_yet", "body", "reason", "vehicle", "keys", "bolts", "weight_reason"];

/// The field that stands in an entry instead of a text.
const DIGEST: &str = "digest";

/// Shown where a text was removed.
pub const REMOVED: &str = "—";

/// Takes every free text out of `value`; `digest_of` keeps it and returns its salted digest.
pub fn take_out(value: &mut Value, digest_of: &mut impl FnMut(&str) -> String) {
    each_text(value, &mut |field| {
        if let Value::String(text) = field {
            let digest = digest_of(text);
            *field = json!({ DIGEST: digest });
        }
    });
}

/// Puts texts back; `text_of` returns none where the text was removed.
pub fn put_back(value: &mut Value, text_of: &mut impl FnMut(&str) -> Option<String>) {
    each_text(value, &mut |field| {
        let digest = field.as_object().filter(|o| o.len() == 1).and_then(|o| o.get(DIGEST)?.as_str());
        if let Some(digest) = digest {
            *field = Value::String(text_of(digest).unwrap_or_else(|| REMOVED.into()));
        }
    });
}

fn each_text(value: &mut Value, visit: &mut impl FnMut(&mut Value)) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| each_text(item, visit)),
        Value::Object(fields) => each_field(fields, visit),
        _ => {}
    }
}

fn each_field(fields: &mut Map<String, Value>, visit: &mut impl FnMut(&mut Value)) {
    for (name, field) in fields {
        if FREE_TEXT.contains(&name.as_str()) {
            visit(field);
        }
        each_text(field, visit);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_goes_out_and_comes_back() {
        let entry = json!({"op": {"kind": "note", "args": {"body": "seized bolt", "order": "x"}},
                           "events": [{"title": {"text": "Seal", "es": "Sellar"}}, {"reason": null}]});
        let mut stored = entry.clone();
        let mut kept = Vec::new();
        take_out(&mut stored, &mut |text| {
            kept.push(text.to_owned());
            format!("d{}", kept.len() - 1)
        });
        let line = stored.to_string();
        assert!(!line.contains("seized") && !line.contains("Sellar"), "{line}");
        put_back(&mut stored, &mut |digest| kept.get(digest[1..].parse::<usize>().ok()?).cloned());
        assert_eq!(stored, entry);
    }

    #[test]
    fn removed_text_leaves_a_mark() {
        let mut stored = json!({"body": {"digest": "gone"}});
        put_back(&mut stored, &mut |_| None);
        assert_eq!(stored, json!({"body": REMOVED}));
    }
}
