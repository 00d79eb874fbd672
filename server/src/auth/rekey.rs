//! New keys in place of those that somebody may have seen.

use domain::Ms;

use super::{over, random};
use crate::control::Record;
use crate::shop::Shop;

const DAY: Ms = 24 * 3_600_000;

/// Sign-ins get a new key. What the old one signed counts for so many days more, so that phones which reach the server
/// by then change over without noticing; with none, everybody signs in anew. Until when it counts.
pub fn tokens(shop: &Shop, days: u32) -> Result<Ms, store::Error> {
    let at = shop.clock.now();
    let until = at + Ms::from(days) * DAY;
    shop.control.write(vec![Record::Rekeyed { hex: hex::encode(random::<32>()), at, until }])?;
    Ok(until)
}

/// The shop is another one to its sister shops: each of them enters its new code.
pub fn shop(shop: &Shop) -> Result<(), store::Error> {
    shop.control.write(vec![over::new_identity()])
}

/// The next start makes a new authority.
pub fn authority(shop: &Shop) -> Result<(), store::Error> {
    shop.control.write(vec![Record::Authority { pem: String::new() }])
}
