//! What may be set up and opened, by the cases that the forms of the app are held to as well
//! (`tests/vectors/setup`, whose README says how a case is read).

use std::path::Path;

use domain::decide::Code;
use domain::stored::*;
use domain::vin::{self, Doubt};
use domain::{Ms, told};
use serde_json::{Map, Value, json};

use crate::support::*;

fn read(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/vectors/setup").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|wrong| panic!("{}: {wrong}", path.display()))
}

/// RFC 7396.
fn changed(base: &Value, change: &Value) -> Value {
    let Value::Object(change) = change else { return change.clone() };
    let mut whole = base.as_object().cloned().unwrap_or_default();
    for (name, value) in change {
        match value {
            Value::Null => whole.remove(name),
            value => {
                whole.insert(name.clone(), changed(&whole.get(name).cloned().unwrap_or_default(), value))
            }
        };
    }
    Value::Object(whole)
}

fn expanded(value: &Value, now: Ms) -> Value {
    match value {
        Value::Array(items) => items.iter().map(|item| expanded(item, now)).collect(),
        Value::Object(fields) => made(fields, now).unwrap_or_else(|| {
            fields.iter().map(|(name, field)| (name.clone(), expanded(field, now))).collect()
        }),
        other => other.clone(),
    }
}

fn made(fields: &Map<String, Value>, now: Ms) -> Option<Value> {
    let count = |name: &str| fields.get(name).and_then(Value::as_i64);
    if let Some(letters) = count("letters") {
        let letter = fields.get("of").and_then(Value::as_str).unwrap_or("x");
        return Some(letter.repeat(letters as usize).into());
    }
    if let Some(ms) = count("from_now") {
        return Some((now + ms).into());
    }
    let numbered = |n: i64| {
        let item = expanded(&fields["item"], now).to_string();
        serde_json::from_str::<Value>(&item.replace('#', &n.to_string())).expect("JSON")
    };
    Some((0..count("times")?).map(numbered).collect())
}

fn act(of: &str, document: &Value) -> Act {
    let args = if of == "order" { document.clone() } else { json!({ of: document }) };
    let kind = if of == "order" { "open_order".to_owned() } else { format!("set_{of}") };
    serde_json::from_value(json!({ "kind": kind, "args": args }))
        .unwrap_or_else(|wrong| panic!("{of}: {wrong}"))
}

#[test]
fn a_case_is_taken_or_refused_as_it_says() {
    let vectors = read("checks.json");
    let cases = vectors["cases"].as_array().expect("cases");
    assert!(cases.len() > 100);
    let mut differ = Vec::new();
    for case in cases {
        let mut shop = TestShop::new();
        let (of, name) = (case["of"].as_str().expect("of"), &case["name"]);
        // A note as it stands in the base is expanded last: a change may bring one in.
        let document = expanded(&changed(&vectors["bases"][of], &case["change"]), shop.now);
        let refused = shop.act("odin", act(of, &document)).err();
        let says = matches!(
            refused.as_ref().map(|refusal| refusal.code),
            Some(Code::Invalid | Code::Cycle | Code::Unknown | Code::UnknownDepartment)
        );
        if refused.is_some() != case["wrong"].is_string() || refused.is_some() != says {
            differ.push(format!("{of}, {name}: {refused:?}"));
        }
    }
    assert!(differ.is_empty(), "{differ:#?}");
}

/// The sum is that of 49 CFR 565.15, tables III to V; the number of ones fits by its arithmetic.
#[test]
fn a_vin_is_doubted_as_the_cases_say() {
    for case in read("vin.json").as_array().expect("cases") {
        let doubt = vin::check(case["vin"].as_str().expect("a VIN")).err().map(|doubt| match doubt {
            Doubt::Length => "length",
            Doubt::Character => "letters",
            Doubt::CheckDigit => "digit",
        });
        assert_eq!(doubt, case["doubt"].as_str(), "{case}");
    }
}

/// Whoever adds a role says where it stands.
#[test]
fn roles_are_told_from_the_one_who_may_do_least() {
    assert!(Role::ALL.is_sorted());
    let error = serde_json::from_value::<Role>(json!("?")).expect_err("no role").to_string();
    let known: Vec<&str> = error.split('`').skip(3).step_by(2).collect();
    assert_eq!(told::limits()["roles"], json!(known), "{error}");
}
