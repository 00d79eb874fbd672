//! Who may hold a connection. Strangers share a few hundred; who has shown a sign-in has an allowance of
//! their own, so that a shop behind one address works whatever else comes from there.
//!
//! Nobody is turned away at the door: whether somebody is of the shop is known only after they have asked
//! something. So a newcomer is let in, and the one who has held a seat longest without showing a sign-in
//! leaves for it, first among those of the address that has most.

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use actix_http::Extensions;
use actix_web::rt::net::TcpStream;
use tokio::sync::Notify;
use uuid::Uuid;

use crate::limits::{HANDLES_KEPT, SEATS_ADDRESS, SEATS_SIGN_IN, SEATS_SIGNED_IN, SEATS_STRANGERS};

/// How many of each kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowance {
    pub strangers: usize,
    pub address: usize,
    pub signed_in: usize,
    pub sign_in: usize,
}

impl Allowance {
    /// For the page for new devices and for a monitor: nobody signs in there.
    pub fn beside() -> Self {
        Self { strangers: 48, address: 24, signed_in: 0, sign_in: 0 }
    }

    /// What fits into so many handles: strangers give way first.
    pub fn within(handles: u64) -> Self {
        let free = usize::try_from(handles.saturating_sub(HANDLES_KEPT)).unwrap_or(usize::MAX).max(16);
        let strangers = SEATS_STRANGERS.min(free / 4);
        Self {
            strangers,
            address: SEATS_ADDRESS.min(strangers.div_ceil(2)),
            signed_in: SEATS_SIGNED_IN.min(free - strangers),
            sign_in: SEATS_SIGN_IN,
        }
    }
}

/// One connection.
#[derive(Debug)]
pub struct Seat {
    number: u64,
    from: IpAddr,
    leave: Notify,
    seats: std::sync::Weak<Seats>,
    /// The sign-in that was shown first.
    holder: OnceLock<Uuid>,
}

impl Seat {
    pub async fn asked_to_leave(&self) {
        self.leave.notified().await;
    }

    /// Somebody has shown a valid sign-in on this connection.
    pub fn shown(self: &Arc<Self>, sign_in: Uuid) {
        if self.holder.get().is_none()
            && let Some(seats) = self.seats.upgrade()
        {
            seats.give(self, sign_in);
        }
    }
}

#[derive(Debug)]
pub struct Seats {
    allowance: Allowance,
    held: Mutex<Held>,
}

#[derive(Debug, Default)]
struct Held {
    count: u64,
    /// By arrival.
    strangers: BTreeMap<u64, Arc<Seat>>,
    signed_in: BTreeMap<u64, Arc<Seat>>,
    by_peer: BTreeMap<SocketAddr, Arc<Seat>>,
}

/// A seat for as long as this lives.
pub struct Taken {
    pub seat: Arc<Seat>,
    peer: SocketAddr,
    seats: Arc<Seats>,
}

impl Drop for Taken {
    fn drop(&mut self) {
        let mut held = self.seats.held();
        held.strangers.remove(&self.seat.number);
        held.signed_in.remove(&self.seat.number);
        if held.by_peer.get(&self.peer).is_some_and(|seat| seat.number == self.seat.number) {
            held.by_peer.remove(&self.peer);
        }
    }
}

impl Seats {
    pub fn new(allowance: Allowance) -> Arc<Self> {
        Arc::new(Self { allowance, held: Mutex::default() })
    }

    fn held(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn take(seats: &Arc<Self>, peer: SocketAddr) -> Taken {
        let from = network_of(peer.ip());
        let mut held = seats.held();
        let same = held.strangers.values().filter(|seat| seat.from == from).count();
        let leaves = if same >= seats.allowance.address {
            Some(from)
        } else if held.strangers.len() >= seats.allowance.strangers {
            most(&held.strangers)
        } else {
            None
        };
        if let Some(address) = leaves {
            let oldest = held.strangers.iter().find(|(_, seat)| seat.from == address).map(|(n, _)| *n);
            if let Some(seat) = oldest.and_then(|number| held.strangers.remove(&number)) {
                seat.leave.notify_one();
            }
        }
        held.count += 1;
        let seat = Arc::new(Seat {
            number: held.count,
            from,
            leave: Notify::new(),
            seats: Arc::downgrade(seats),
            holder: OnceLock::new(),
        });
        held.strangers.insert(seat.number, seat.clone());
        held.by_peer.insert(peer, seat.clone());
        drop(held);
        Taken { seat, peer, seats: seats.clone() }
    }

    /// So that a request can say on which seat it came.
    pub fn remember(&self, io: &TcpStream, about: &mut Extensions) {
        let seat = io.peer_addr().ok().and_then(|peer| self.held().by_peer.get(&peer).cloned());
        if let Some(seat) = seat {
            about.insert(seat);
        }
    }

    /// From the strangers' seats to those of the signed-in. One sign-in has some, so that nobody's
    /// colleague takes them all; where all are taken, it stays among the strangers.
    fn give(&self, seat: &Arc<Seat>, sign_in: Uuid) {
        let mut held = self.held();
        let mine = |held: &Held| {
            let mine = held.signed_in.iter().filter(|(_, s)| s.holder.get() == Some(&sign_in));
            mine.map(|(number, _)| *number).collect::<Vec<_>>()
        };
        let numbers = mine(&held);
        if numbers.len() >= self.allowance.sign_in
            && let Some(oldest) = held.signed_in.remove(&numbers[0])
        {
            oldest.leave.notify_one();
        }
        if held.signed_in.len() < self.allowance.signed_in && held.strangers.remove(&seat.number).is_some() {
            let _ = seat.holder.set(sign_in);
            held.signed_in.insert(seat.number, seat.clone());
        }
    }

    #[cfg(test)]
    fn count(&self) -> (usize, usize) {
        let held = self.held();
        (held.strangers.len(), held.signed_in.len())
    }
}

fn most(strangers: &BTreeMap<u64, Arc<Seat>>) -> Option<IpAddr> {
    let mut count = BTreeMap::<IpAddr, usize>::new();
    strangers.values().for_each(|seat| *count.entry(seat.from).or_default() += 1);
    count.into_iter().max_by_key(|(_, count)| *count).map(|(address, _)| address)
}

/// One device may have every address of its /64 (RFC 7217, RFC 8981), so those count as one.
fn network_of(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => {
            let [a, b, c, d, ..] = v6.segments();
            Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).into()
        }
        v4 => v4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FEW: Allowance = Allowance { strangers: 8, address: 4, signed_in: 6, sign_in: 2 };

    fn from(host: u8, port: u16) -> SocketAddr {
        SocketAddr::from(([127, 0, 0, host], port))
    }

    fn must_leave(taken: &Taken) -> bool {
        futures_util::FutureExt::now_or_never(taken.seat.asked_to_leave()).is_some()
    }

    #[test]
    fn the_oldest_stranger_of_the_same_address_leaves() {
        let seats = Seats::new(FEW);
        let other = Seats::take(&seats, from(3, 1));
        let taken: Vec<Taken> = (0..6).map(|port| Seats::take(&seats, from(2, port))).collect();
        assert_eq!(
            taken.iter().map(must_leave).collect::<Vec<_>>(),
            [true, true, false, false, false, false]
        );
        assert!(!must_leave(&other));
    }

    #[test]
    fn where_all_are_taken_the_address_that_has_most_gives_one() {
        let seats = Seats::new(FEW);
        let many: Vec<Taken> = (0..4).map(|port| Seats::take(&seats, from(2, port))).collect();
        let few: Vec<Taken> = (3..7).map(|host| Seats::take(&seats, from(host, 1))).collect();
        let newcomer = Seats::take(&seats, from(9, 1));
        assert!(must_leave(&many[0]) && !many[1..].iter().any(must_leave));
        assert!(!few.iter().any(must_leave) && !must_leave(&newcomer));
    }

    #[test]
    fn who_has_shown_a_sign_in_stays_whoever_comes_from_the_same_address() {
        let seats = Seats::new(FEW);
        let people: Vec<(Taken, Uuid)> =
            (0..6).map(|port| (Seats::take(&seats, from(2, port)), Uuid::from_u128(port.into()))).collect();
        // The first two had to leave before they said who they are.
        people.iter().for_each(|(taken, sign_in)| taken.seat.shown(*sign_in));
        assert_eq!(seats.count(), (0, 4));
        let crowd: Vec<Taken> = (100..200).map(|port| Seats::take(&seats, from(2, port))).collect();
        assert!(!people[2..].iter().any(|(taken, _)| must_leave(taken)));
        assert_eq!(seats.count(), (4, 4));
        drop(crowd);
        drop(people);
        assert_eq!(seats.count(), (0, 0));
        assert!(seats.held().by_peer.is_empty());
    }

    #[test]
    fn one_sign_in_has_its_share_and_no_more() {
        let seats = Seats::new(FEW);
        let one = Uuid::from_u128(1);
        let greedy: Vec<Taken> = (0..4)
            .map(|port| {
                let taken = Seats::take(&seats, from(2, port));
                taken.seat.shown(one);
                taken
            })
            .collect();
        assert_eq!(greedy.iter().map(must_leave).collect::<Vec<_>>(), [true, true, false, false]);
        assert_eq!(seats.count(), (0, 2));
    }

    #[test]
    fn few_handles_leave_the_most_to_those_of_the_shop() {
        let plenty = Allowance::within(20_000);
        assert_eq!((plenty.strangers, plenty.signed_in), (SEATS_STRANGERS, SEATS_SIGNED_IN));
        assert!(plenty.signed_in >= 400);
        let few = Allowance::within(256);
        assert!(few.signed_in > 2 * few.strangers && few.address < few.strangers);
        assert!(few.signed_in + few.strangers <= 256);
    }

    #[test]
    fn addresses_of_one_network_of_ipv6_count_as_one() {
        let of = |text: &str| network_of(text.parse().unwrap());
        assert_eq!(of("2001:db8:1:2:aaaa::1"), of("2001:db8:1:2:bbbb::9"));
        assert_ne!(of("2001:db8:1:2::1"), of("2001:db8:1:3::1"));
        assert_eq!(of("::ffff:192.0.2.7"), of("192.0.2.7"));
    }
}
