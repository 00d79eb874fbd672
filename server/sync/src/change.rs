//! What a batch changed, as phones receive it: a new document whole, a changed one as an RFC 7396 merge patch
//! on the version the phone has, because a phone applies a frame only at that frame's own cursor.
//!
//! Invariant: the patch of two versions, applied to the first, gives the second; what a merge patch
//! cannot say (a null, a list's element) is sent whole.

use std::collections::BTreeMap;
use std::fmt::Write;

use domain::state::{Key, State};
use serde_json::{Map, Value};

/// The JSON list of changed documents: `{"key","seq","body"}`, or `"patch"` in place of `"body"`.
pub fn lines(before: &State, after: &State, changed: &BTreeMap<Key, u64>) -> String {
    let mut json = String::from("[");
    for (key, seq) in changed {
        let patched = before.document(key).and_then(|then| patch(&then, &after.document(key)?));
        let (word, value) = match patched {
            Some(patch) => ("patch", patch.to_string()),
            None => match after.document_json(key) {
                Some(whole) => ("body", whole),
                None => continue,
            },
        };
        let comma = if json.len() == 1 { "" } else { "," };
        // Writing to a String cannot fail.
        let _ = write!(json, "{comma}{{\"key\":\"{key}\",\"seq\":{seq},\"{word}\":{value}}}");
    }
    json.push(']');
    json
}

/// The merge patch from one object to the other; none if a patch cannot express it.
pub fn patch(before: &Value, after: &Value) -> Option<Value> {
    let (Value::Object(before), Value::Object(after)) = (before, after) else { return None };
    object(before, after).map(Value::Object)
}

fn object(before: &Map<String, Value>, after: &Map<String, Value>) -> Option<Map<String, Value>> {
    let mut patch = Map::new();
    for name in before.keys().filter(|name| !after.contains_key(*name)) {
        patch.insert(name.clone(), Value::Null);
    }
    for (name, value) in after {
        let change = match (before.get(name), value) {
            (Some(same), value) if same == value => continue,
            (Some(Value::Object(then)), Value::Object(now)) => Value::Object(object(then, now)?),
            (_, value) if has_null(value) => return None,
            (_, value) => value.clone(),
        };
        patch.insert(name.clone(), change);
    }
    Some(patch)
}

/// In objects only: a merge patch replaces lists whole, nulls in them included.
fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Object(map) => map.values().any(has_null),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn goes(before: Value, after: Value) -> Option<Value> {
        let patch = patch(&before, &after)?;
        let mut applied = before;
        json_patch::merge(&mut applied, &patch);
        assert_eq!(applied, after, "by {patch}");
        Some(patch)
    }

    #[test]
    fn a_patch_says_only_what_changed() {
        let patch = goes(
            json!({"life": "ready", "title": "Weld", "needs": {"lift": true, "people": 1}, "held": {"by": 1}}),
            json!({"life": "working", "title": "Weld", "needs": {"lift": true, "people": 2}, "spans": [1, null]}),
        );
        assert_eq!(
            patch,
            Some(json!({"life": "working", "needs": {"people": 2}, "held": null, "spans": [1, null]}))
        );
        assert_eq!(goes(json!({"a": 1}), json!({"a": 1})), Some(json!({})));
    }

    #[test]
    fn what_a_patch_cannot_say_goes_whole() {
        assert_eq!(goes(json!({"a": 1}), json!({"a": null})), None);
        assert_eq!(goes(json!({"a": {"b": 1}}), json!({"a": {"b": 1, "c": {"d": null}}})), None);
        assert_eq!(goes(json!([1]), json!([2])), None);
    }

    /// RFC 7396, appendix A: the rows whose patch is the smallest for its two documents.
    #[test]
    fn the_examples_of_the_standard() {
        let rows = [
            (json!({"a": "b"}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "b"}), json!({"a": "b", "b": "c"}), json!({"b": "c"})),
            (json!({"a": "b"}), json!({}), json!({"a": null})),
            (json!({"a": "b", "b": "c"}), json!({"b": "c"}), json!({"a": null})),
            (json!({"a": ["b"]}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "c"}), json!({"a": ["b"]}), json!({"a": ["b"]})),
            (json!({"a": {"b": "c"}}), json!({"a": {"b": "d"}}), json!({"a": {"b": "d"}})),
            (json!({"a": [{"b": "c"}]}), json!({"a": [1]}), json!({"a": [1]})),
        ];
        for (before, after, patch) in rows {
            assert_eq!(goes(before, after), Some(patch));
        }
    }
}
