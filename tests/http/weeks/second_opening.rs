//! Closed, and then a second seam is remembered: it goes up again, and somebody answers for that.

use domain::stored::Role;
use serde_json::{Value, json};

use super::{HOUR, card, order, row, seen, told};
use crate::support::{Shop, User};

/// What opens, and what closes.
fn cards_of(user: &User, handoff: &str) -> (String, String) {
    let cards = seen(user, "handoff", handoff)["cards"].clone();
    let with = |what: &str| {
        let cards = cards.as_array().unwrap().iter().map(|id| id.as_str().unwrap());
        cards.filter(|id| seen(user, "card", id)[what] != Value::Null).map(str::to_owned).next().unwrap()
    };
    (with("opens"), with("closes"))
}

#[test]
fn a_car_that_goes_up_a_second_time_asks_why_and_does_it_once_for_all_who_need_it() {
    let shop = Shop::start();
    let mut planner = shop.user("Greta Amsel", "office", Role::Planner);
    let mut tomas = shop.user("Tomas Okafor", "body", Role::Technician);
    let mut pia = shop.user("Pia Lund", "refinish", Role::Technician);
    let mut lena = shop.user("Lena Sorel", "mechanical", Role::Technician);
    let order = order(&mut planner, "2041");
    let ask = |user: &mut User, from: &str, card: &str| {
        user.done(
            "ask",
            json!({"order": order, "routing": "suspension-down-rear", "from": from, "for_card": card}),
        )
    };
    let work = |user: &mut User, card: &str| {
        user.done("start", json!({"card": card}));
        shop.clock.advance(HOUR);
        user.done("finish", json!({"card": card, "checks": []}));
    };
    let seal = card(&mut planner, &order, "body", 60, &[]);
    let first = ask(&mut tomas, "body", &seal);
    let (drop, refit) = cards_of(&planner, &first);
    lena.done("move", json!({"order": order, "to": "lift-1"}));
    work(&mut lena, &drop);
    work(&mut tomas, &seal);
    shop.clock.advance(HOUR);
    work(&mut lena, &refit);
    assert_eq!(seen(&tomas, "order", &order)["open"], json!([]));

    // A second seam: the same again, which the planner has to answer for.
    let more = card(&mut planner, &order, "body", 30, &[]);
    let second = ask(&mut tomas, "body", &more);
    let raised = |kind: &str| {
        let state = shop.opened.view().state.clone();
        let word = |e: &domain::stored::Exception| json!(e.kind).as_str().unwrap().to_owned();
        state.exceptions.values().filter(|e| word(e) == kind).map(|e| e.id).collect::<Vec<_>>()
    };
    assert_eq!(raised("opened_twice").len(), 1);
    assert!(told(&planner).contains(&"exception".to_owned()), "{:?}", told(&planner));
    // Paint wants in as well: it joins what will be opened, no third opening.
    let wax = card(&mut planner, &order, "refinish", 20, &[]);
    let joined = ask(&mut pia, "refinish", &wax);
    assert_eq!(seen(&pia, "handoff", &joined)["joined"], true);
    let (again, close) = cards_of(&planner, &second);
    assert_ne!((&again, &close), (&drop, &refit));
    assert_eq!(raised("opened_twice").len(), 1, "once");
    planner.plan(|plan| [&again, &more, &wax, &close].into_iter().all(|card| row(plan, card).is_some()));
    work(&mut lena, &again);
    for (who, user) in [("body", &tomas), ("refinish", &pia)] {
        assert!(told(user).contains(&"open".to_owned()), "{who}: {:?}", told(user));
    }
    work(&mut tomas, &more);
    // Over undone wax: it is recorded, and loud.
    let over = lena.act("finish", json!({"card": close, "checks": []}));
    assert_eq!(over["verdict"], "applied", "what happened in steel is kept");
    assert_eq!(raised("closed_over_undone").len(), 1);
    assert!(told(&pia).contains(&"closed_over".to_owned()), "{:?}", told(&pia));
    let alarm = planner.notices().into_iter().find(|notice| notice["urgent"] == true).expect("an alarm");
    let answer = json!({"exception": alarm["exception"], "reason": "Wax goes in through the drain hole."});
    assert_eq!(tomas.act("answer", answer.clone())["code"], "forbidden");
    planner.done("answer", answer);
}
