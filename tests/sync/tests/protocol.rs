//! What the simulation found in the server, each alone.

use std::sync::Arc;

use domain::ids::{ClientId, OpId, PersonId, SessionId};
use domain::stored::{Act, Verdict};
use serde_json::{Value, json};
use simulate::dice::Dice;
use store::Memory;
use sync::clock::Clock;
use sync::control::Record;
use sync::shop::{OwnOp, Shop};
use sync::writer::{Push, PushError, Results, Sender};

const NOW: i64 = 1_790_000_000_000;

struct Phone {
    shop: Arc<Shop>,
    person: PersonId,
    client: ClientId,
    session: SessionId,
}

fn phone() -> Phone {
    let mut dice = Dice::new(1);
    let shop = Shop::open(Arc::new(Memory::new(1)), Clock::at(NOW)).unwrap();
    let (person, client, session) = (PersonId(dice.uuid()), ClientId(dice.uuid()), SessionId(dice.uuid()));
    let acts = simulate::acts::set_up(&[person], &mut dice).into_iter();
    shop.own_now(acts.map(|act: Act| OwnOp { id: OpId(dice.uuid()), ..OwnOp::system(act) }).collect())
        .unwrap();
    let signed_in = Record::SignedIn {
        session,
        person,
        device: "phone".into(),
        at: NOW,
        token: None,
        browser: None,
        passkey: None,
    };
    shop.control.write(vec![Record::Bound { client, person, browser: None, at: None }, signed_in]).unwrap();
    Phone { shop, person, client, session }
}

impl Phone {
    fn op(&self, n: u64, id: u128, v: u32) -> Value {
        let order = self.shop.view().state.orders.keys().next().unwrap().to_string();
        json!({"n": n, "id": uuid::Uuid::from_u128(id), "session": self.session, "v": v, "kind": "note",
               "args": {"order": order, "body": format!("note {id}")}, "device_at": NOW})
    }

    fn push(&self, ops: Vec<Value>) -> Result<Results, PushError> {
        let (client, person) = (self.client, self.person);
        self.shop.push_now(Push { from: Sender { client, person, own: true }, device_now: NOW, ops })
    }
}

#[test]
fn what_came_before_a_fork_is_answered() {
    let phone = phone();
    phone.push(vec![phone.op(1, 1, 1), phone.op(2, 2, 1)]).unwrap();
    // Another phone with the same numbers: it has the first operation too, and its own second one.
    let answer = phone.push(vec![phone.op(1, 1, 1), phone.op(2, 22, 1), phone.op(3, 23, 1)]).unwrap();
    assert_eq!(answer.ops.iter().map(|told| told.n).collect::<Vec<_>>(), [1]);
    assert_eq!(phone.push(vec![phone.op(2, 22, 1)]).unwrap_err(), PushError::Forked);
}

#[test]
fn what_came_before_a_gap_is_answered() {
    let phone = phone();
    let answer = phone.push(vec![phone.op(1, 1, 1), phone.op(3, 3, 1)]).unwrap();
    assert_eq!((answer.ops.len(), answer.ops[0].n, answer.ops[0].verdict), (1, 1, Verdict::Applied));
    assert_eq!(phone.push(vec![phone.op(3, 3, 1)]).unwrap_err(), PushError::Gap { expected: 2 });
}

#[test]
fn a_newer_versions_operation_is_refused_and_holds_up_nothing() {
    let phone = phone();
    let answer = phone.push(vec![phone.op(1, 1, 2), phone.op(2, 2, 1)]).unwrap();
    assert_eq!((answer.ops[0].verdict, answer.ops[0].code.as_deref()), (Verdict::Refused, Some("invalid")));
    assert_eq!(answer.ops[1].verdict, Verdict::Applied);
}
