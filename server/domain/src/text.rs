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

/// Maps whose keys are ids or short words that a shop chooses ("body" is a department too): nothing in
/// them is typed text, whatever the keys are called.
const KEYED: [&str; 4] = ["leads", "minutes", "qualifications", "days"];

/// The field that stands in an entry instead of a text.
const DIGEST: &str = "digest";

/// Shown where a text was removed.
pub const REMOVED: &str = "—";

/// Takes every free text out of `value`; `digest_of` keeps it and returns its salted digest.
pub fn take_out(value: &mut Value, digest_of: &mut impl FnMut(&str) -> String) {
    each_text(value, &mut |field| {
        // Something sent in the shape of a digest goes out as text: putting back must not fetch what
        // belongs to somebody else.
        let text = match field {
            Value::String(text) => std::mem::take(text),
            ref other if digest_in(other).is_some() => other.to_string(),
            _ => return,
        };
        *field = json!({ DIGEST: digest_of(&text) });
    });
}

/// Puts texts back; `text_of` returns none where the text was removed.
pub fn put_back(value: &mut Value, text_of: &mut impl FnMut(&str) -> Option<String>) {
    each_text(value, &mut |field| {
        if let Some(digest) = digest_in(field) {
            *field = Value::String(text_of(digest).unwrap_or_else(|| REMOVED.into()));
        }
    });
}

/// What a person writes about work. Not here: what things are called, what a vehicle looks like, where keys and
/// bolts are. Who comes next needs these, and they say nothing about who typed them.
const WROTE: [&str; 5] = ["note", "not_yet", "body", "reason", "weight_reason"];

/// The texts in an entry that somebody wrote of whom `gone` is true, and what was typed about them: their name,
/// the reasons of their absences. Each part belongs to whom it names as its author, else to whom the entry does.
pub fn each_of(entry: &mut Value, gone: &dyn Fn(&str) -> bool, visit: &mut dyn FnMut(&mut Value)) {
    each_of_in(entry, Whose::default(), gone, visit);
}

/// The digests of these texts.
pub fn digests_of(entry: &mut Value, gone: &dyn Fn(&str) -> bool) -> Vec<String> {
    let mut digests = Vec::new();
    each_of(entry, gone, &mut |field| digests.extend(digest_in(field).map(str::to_owned)));
    digests
}

/// Leaves a mark in their place.
pub fn blank(entry: &mut Value, gone: &dyn Fn(&str) -> bool) {
    each_of(entry, gone, &mut |field| {
        if field.is_string() {
            *field = Value::String(REMOVED.into());
        }
    });
}

#[derive(Clone, Copy, Default)]
struct Whose {
    /// Somebody who is gone wrote this part.
    wrote: bool,
    /// It is about somebody who is gone.
    about: bool,
    /// The marks on a picture.
    mark: bool,
}

fn each_of_in(
    value: &mut Value,
    mut whose: Whose,
    gone: &dyn Fn(&str) -> bool,
    visit: &mut dyn FnMut(&mut Value),
) {
    let fields = match value {
        Value::Array(items) => return items.iter_mut().for_each(|item| each_of_in(item, whose, gone, visit)),
        Value::Object(fields) => fields,
        _ => return,
    };
    let id = |name: &str| fields.get(name).and_then(Value::as_str);
    if let Some(author) = id("answered_by").or_else(|| id("asked_by")).or_else(|| id("by")) {
        whose.wrote = gone(author);
    }
    // Only a person has a role.
    whose.about |= fields.contains_key("role") && id("id").is_some_and(gone);
    for (name, field) in fields {
        let Whose { wrote, about, mark } = whose;
        let written = WROTE.contains(&name.as_str()) || (mark && name == "text");
        // A whole note, too, stands in a field that is called so.
        let is_text = field.is_string() || digest_in(field).is_some();
        if is_text && ((wrote && written) || (about && (name == "name" || name == "reason"))) {
            visit(field);
        } else if !KEYED.contains(&name.as_str()) {
            each_of_in(field, Whose { mark: mark || name == "marks", ..whose }, gone, visit);
        }
    }
}

fn digest_in(field: &Value) -> Option<&str> {
    field.as_object().filter(|o| o.len() == 1).and_then(|o| o.get(DIGEST)?.as_str())
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
        if KEYED.contains(&name.as_str()) {
            continue;
        }
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
    fn a_department_called_body_is_no_text() {
        let entry = json!({"order": {"leads": {"body": "0198"}, "number": "2041"}});
        let mut stored = entry.clone();
        take_out(&mut stored, &mut |text| panic!("«{text}» is no free text"));
        assert_eq!(stored, entry);
    }

    #[test]
    fn what_looks_like_a_digest_fetches_nothing() {
        let mut stored = json!({"body": {"digest": "somebody's"}});
        let mut kept = Vec::new();
        take_out(&mut stored, &mut |text| {
            kept.push(text.to_owned());
            "own".into()
        });
        put_back(&mut stored, &mut |digest| (digest == "own").then(|| kept[0].clone()));
        assert_eq!(stored, json!({"body": r#"{"digest":"somebody's"}"#}));
    }

    #[test]
    fn what_one_person_wrote_is_told_from_what_others_did() {
        let entry = json!({
            "by": "p", "op": {"kind": "ask", "args": {"note": "mine", "condition": {"bolts": "red tray"}}},
            "events": [
                {"event": "undone", "card": {"title": {"text": "Seal"}, "put_first": {"by": "q", "reason": "not mine"}}},
                {"event": "noted", "note": {"by": "p", "body": "mine as well"}},
                {"event": "photo_marked", "marked": {"by": "p", "marks": [{"text": "mine too"}]}},
                {"event": "person_set", "person": {"id": "q", "role": "parts", "name": "Q", "away": [{"reason": "ill"}]}},
            ]
        });
        let left = |gone: &'static str| {
            let mut entry = entry.clone();
            blank(&mut entry, &|id| id == gone);
            entry
        };
        let p = left("p").to_string();
        assert!(!p.contains("\"mine"), "{p}");
        assert!(["red tray", "not mine", "Seal", "\"Q\""].iter().all(|stays| p.contains(stays)), "{p}");
        let q = left("q").to_string();
        assert!(!["not mine", "\"Q\"", "ill"].iter().any(|goes| q.contains(goes)), "{q}");
        assert!(
            ["\"mine\"", "mine too", "mine as well", "red tray", "Seal"]
                .iter()
                .all(|stays| q.contains(stays)),
            "{q}"
        );
        assert_eq!(left("nobody"), entry);
    }

    #[test]
    fn removed_text_leaves_a_mark() {
        let mut stored = json!({"body": {"digest": "gone"}});
        put_back(&mut stored, &mut |_| None);
        assert_eq!(stored, json!({"body": REMOVED}));
    }
}
