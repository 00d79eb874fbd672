//! Numbers that identify: VIN and UUID.

use domain::ids::{OpId, part_of};
use domain::vin::{Doubt, check, check_digit};
use uuid::Uuid;

/// 49 CFR 565.15, its sample calculation: 1G4AH59H?5G118341, products sum to 411, check digit 4.
#[test]
fn vin_check_digit_of_the_regulations_sample() {
    assert_eq!(check_digit("1G4AH59H?5G118341"), Some('4'));
    assert_eq!(check("1G4AH59H45G118341"), Ok(()));
    for wrong in "012356789X".chars() {
        let vin = format!("1G4AH59H{wrong}5G118341"); // every digit but the right one
        assert_eq!(check(&vin), Err(Doubt::CheckDigit), "{vin}");
    }
}

/// The same sum by the tables of 49 CFR 565.15, written out here a second time: values by letter,
/// weights by position.
#[test]
fn vin_sum_of_the_regulations_sample_is_411() {
    let values = "1G4AH59H05G118341".chars().map(|c| {
        // Table III: A-H 1-8, J-N 1-5, P 7, R 9, S-Z 2-9.
        "0123456789"
            .find(c)
            .or_else(|| "ABCDEFGH".find(c).map(|i| i + 1))
            .or_else(|| "JKLMN".find(c).map(|i| i + 1))
    });
    let weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
    let sum: usize = values.zip(weights).map(|(value, weight)| value.expect("in the sample") * weight).sum();
    assert_eq!(sum, 411);
}

/// 49 CFR 565.15: a remainder of ten is written X. Seventeen ones sum to 89 = 8 * 11 + 1, so the check
/// digit of a VIN of ones is 1 (common test value [CP]).
#[test]
fn vin_edges() {
    assert_eq!(check("11111111111111111"), Ok(()));
    // By hand: 1 in position 8 (weight 10), zeros elsewhere: 10 mod 11 = 10.
    assert_eq!(check_digit("00000001000000000"), Some('X'));
    assert_eq!(check("00000001X00000000"), Ok(()));
    for bad in ["1G4AH59H45G11834", "1G4AH59H45G1183411"] {
        assert_eq!(check(bad), Err(Doubt::Length), "{bad}");
    }
    // ISO 3779: no I, O, Q.
    for bad in ["IG4AH59H45G118341", "1G4AHO9H45G118341", "1G4AH59H45Q118341", "1g4AH59H45G118341"] {
        assert_eq!(check(bad), Err(Doubt::Character), "{bad}");
    }
}

/// RFC 9562, appendix A.6: example of a UUIDv7 value, 2022-02-22T19:22:22Z (given there as 14:22:22 GMT-05:00).
#[test]
fn uuid_v7_of_the_rfc_carries_its_time() {
    let id: Uuid = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F".parse().expect("a UUID");
    assert_eq!(id.get_version_num(), 7);
    let (seconds, nanos) = id.get_timestamp().expect("a time").to_unix();
    let expected: jiff::Timestamp = "2022-02-22T19:22:22Z".parse().expect("a time");
    assert_eq!((seconds as i64, nanos), (expected.as_second(), 0));
    // In an id of ours the same bytes survive the stored JSON.
    let stored = serde_json::to_string(&OpId(id)).expect("JSON");
    assert_eq!(stored, "\"017f22e2-79b0-7cc3-98c4-dc0c0c07398f\"");
    assert_eq!(serde_json::from_str::<OpId>(&stored).expect("an id"), OpId(id));
}

/// RFC 9562, appendix A.4: UUIDv5 of "www.example.com" in the DNS namespace; Python's `uuid.uuid5` gives
/// the same. It is how a phone and the server name the same card.
#[test]
fn uuid_v5_of_the_rfc_is_how_parts_are_named() {
    let expected: Uuid = "2ed6657d-e927-568b-95e1-2665a8aea6a2".parse().expect("a UUID");
    assert_eq!(part_of(OpId(Uuid::NAMESPACE_DNS), "www.example.com"), expected);
}
