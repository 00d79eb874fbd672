//! Marks on photos: a fact beside the picture, one set for each person.

use domain::decide::Code;
use domain::ids::*;
use domain::stored::*;

use crate::support::*;

fn photograph(shop: &mut TestShop, order: OrderId) -> PhotoId {
    let act = Act::Photo {
        order,
        card: None,
        handoff: None,
        sha256: "ab".repeat(32),
        mime: "image/jpeg".into(),
        bytes: 240_000,
        taken_at: shop.now,
    };
    shop.ok("ines", act);
    PhotoId(shop.last_op().0)
}

fn arrow(x: u16) -> Mark {
    Mark { kind: MarkKind::Arrow, x1: x, y1: 0, x2: 5_000, y2: 10_000, text: None }
}

fn text(words: &str) -> Mark {
    Mark { kind: MarkKind::Text, x1: 1, y1: 1, x2: 1, y2: 1, text: Some(words.into()) }
}

#[test]
fn marks_replace_those_of_the_same_person_only() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let photo = photograph(&mut shop, order);
    let mark = |marks: Vec<Mark>| Act::MarkPhoto { photo, marks };
    shop.ok("ines", mark(vec![arrow(1)]));
    shop.ok("milo", mark(vec![arrow(2), text("seized")]));
    shop.later(5).ok("ines", mark(vec![arrow(3)]));
    let marks = |shop: &TestShop| -> Vec<(PersonId, Vec<Mark>)> {
        shop.state.photos[&photo].marks.iter().map(|own| (own.by, own.marks.clone())).collect()
    };
    let milos = (person("milo"), vec![arrow(2), text("seized")]);
    assert_eq!(marks(&shop), [milos.clone(), (person("ines"), vec![arrow(3)])]);
    assert!(shop.ok("ines", mark(vec![arrow(3)])).is_empty(), "nothing new");
    shop.ok("ines", mark(Vec::new()));
    assert_eq!(marks(&shop), [milos], "all of her own are off");
    assert!(shop.ok("ines", mark(Vec::new())).is_empty());
    assert_eq!(shop.state.photos[&photo].sha256, "ab".repeat(32), "the picture stays as it was taken");
}

#[test]
fn marks_are_kept_on_a_vehicle_that_has_left() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let photo = photograph(&mut shop, order);
    shop.ok("rask", stage(order, Stage::Delivered));
    shop.ok("ines", Act::MarkPhoto { photo, marks: vec![arrow(1)] });
    assert_eq!(shop.state.photos[&photo].marks.len(), 1);
}

#[test]
fn marks_that_cannot_be_drawn_are_not_taken() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let photo = photograph(&mut shop, order);
    let mut code =
        |photo: PhotoId, marks: Vec<Mark>| shop.refused("ines", Act::MarkPhoto { photo, marks }).code;
    assert_eq!(code(PhotoId(id(0x7777)), vec![arrow(1)]), Code::Unknown);
    assert_eq!(code(photo, vec![arrow(10_001)]), Code::Invalid);
    assert_eq!(code(photo, vec![Mark { text: None, ..text("") }]), Code::Invalid);
    assert_eq!(code(photo, vec![text("  ")]), Code::Invalid);
    assert_eq!(code(photo, vec![text(&"x".repeat(201))]), Code::Invalid);
    assert_eq!(code(photo, vec![arrow(1); 51]), Code::Invalid);
}

#[test]
fn what_is_written_on_a_photo_stands_beside_the_log() {
    let mut shop = TestShop::new();
    let order = shop.order("2041");
    let photo = photograph(&mut shop, order);
    shop.ok("ines", Act::MarkPhoto { photo, marks: vec![text("call the Harlans first")] });
    let mut line = serde_json::to_value(shop.entries.last().expect("an entry")).expect("JSON");
    domain::text::take_out(&mut line, &mut |_| "digest".into());
    assert!(!line.to_string().contains("Harlans"), "{line}");
}
