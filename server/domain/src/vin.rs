//! Vehicle identification numbers. A wrong check digit is warned about, never refused: it is required
//! for vehicles made for the US market only (49 CFR 565.15).

/// Why a VIN is doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Doubt {
    /// Not 17 characters.
    #[error("a VIN has 17 characters")]
    Length,
    /// A character that no VIN has.
    #[error("a VIN has only digits and capital letters other than I, O and Q")]
    Character,
    /// The check digit does not fit.
    #[error("the check digit in position 9 does not fit the others")]
    CheckDigit,
}

/// Weights by position, 49 CFR 565.15 table IV; position 9 is the check digit itself.
const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// Whether this can be a VIN, and if not, why.
pub fn check(vin: &str) -> Result<(), Doubt> {
    let characters: Vec<char> = vin.chars().collect();
    if characters.len() != 17 {
        return Err(Doubt::Length);
    }
    let values: Vec<u32> =
        characters.iter().map(|c| value(*c)).collect::<Option<_>>().ok_or(Doubt::Character)?;
    let remainder = sum(&values) % 11;
    if characters[8] == digit(remainder) { Ok(()) } else { Err(Doubt::CheckDigit) }
}

/// The check digit that position 9 must carry; none if a character is not allowed or one is missing.
pub fn check_digit(vin: &str) -> Option<char> {
    let values: Vec<u32> = vin
        .chars()
        .enumerate()
        .map(|(i, c)| if i == 8 { Some(0) } else { value(c) })
        .collect::<Option<_>>()?;
    (values.len() == 17).then(|| digit(sum(&values) % 11))
}

fn sum(values: &[u32]) -> u32 {
    values.iter().zip(WEIGHTS).map(|(value, weight)| value * weight).sum()
}

fn digit(remainder: u32) -> char {
    if remainder == 10 { 'X' } else { char::from_digit(remainder, 10).unwrap_or('0') }
}

/// 49 CFR 565.15 table III.
fn value(character: char) -> Option<u32> {
    match character {
        '0'..='9' => character.to_digit(10),
        'A'..='H' => Some(character as u32 - 'A' as u32 + 1),
        'J'..='N' => Some(character as u32 - 'J' as u32 + 1),
        'P' => Some(7),
        'R' => Some(9),
        'S'..='Z' => Some(character as u32 - 'S' as u32 + 2),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_doubt_has_its_reason() {
        assert_eq!(check("ZZ9"), Err(Doubt::Length));
        assert_eq!(check("ZZ9AAAAA0IAAAAAAA"), Err(Doubt::Character));
        let right = "ZZ9AAAAA0AAAAAAAA";
        let digit = check_digit(right).unwrap();
        let fitting: String =
            right.chars().enumerate().map(|(i, c)| if i == 8 { digit } else { c }).collect();
        assert_eq!(check(&fitting), Ok(()));
        let wrong: String = right
            .chars()
            .enumerate()
            .map(|(i, c)| if i == 8 { if digit == '1' { '2' } else { '1' } } else { c })
            .collect();
        assert_eq!(check(&wrong), Err(Doubt::CheckDigit));
    }
}
