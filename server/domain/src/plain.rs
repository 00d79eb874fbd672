//! Characters that are not text: controls (Unicode general category Cc) and characters that override the
//! direction of what stands around them (UAX #9, 2.1 and 2.2: LRE to RLO, and the isolates). They make one name
//! look like another, and one line of a log or letter like two.
//!
//! Rule: a wish or a setting that contains any is refused. A fact is kept in its operation as it was sent, and
//! its event shows a mark in their place. Notes may have line breaks.

use std::borrow::Cow;

use serde_json::Value;

use crate::stored::Act;

/// Fields that may hold several lines.
const LINES: [&str; 6] = ["note", "not_yet", "body", "reason", "weight_reason", "why"];

fn is_direction(c: char) -> bool {
    matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

fn is_break(c: char) -> bool {
    matches!(c, '\n' | '\r' | '\t')
}

/// Whether a text contains characters that are not text.
pub fn is_odd(text: &str, lines: bool) -> bool {
    text.chars().any(|c| is_direction(c) || c.is_control() && !(lines && is_break(c)))
}

/// The text with U+FFFD in place of each of them, and a space for a line break that does not belong there.
pub fn shown(text: &str, lines: bool) -> Cow<'_, str> {
    if !is_odd(text, lines) {
        return Cow::Borrowed(text);
    }
    let shown = |c: char| match c {
        _ if is_break(c) => {
            if lines {
                c
            } else {
                ' '
            }
        }
        _ if is_direction(c) || c.is_control() => char::REPLACEMENT_CHARACTER,
        _ => c,
    };
    text.chars().map(shown).collect()
}

/// The act with each of its texts as it is shown; none if all of them are plain. An act that cannot be
/// serialised has no text in it.
pub(crate) fn act_shown(act: &Act) -> Option<Act> {
    let mut value = serde_json::to_value(act).ok()?;
    if !each(&mut value, false) {
        return None;
    }
    serde_json::from_value(value).ok()
}

/// Whether one was changed.
fn each(value: &mut Value, lines: bool) -> bool {
    match value {
        Value::String(text) => match shown(text, lines) {
            Cow::Borrowed(_) => false,
            Cow::Owned(shown) => {
                *text = shown;
                true
            }
        },
        Value::Array(items) => {
            let mut odd = false;
            for item in items {
                odd |= each(item, lines);
            }
            odd
        }
        Value::Object(fields) => {
            let mut odd = false;
            for (name, field) in fields {
                odd |= is_odd(name, false) | each(field, LINES.contains(&name.as_str()));
            }
            odd
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_writing_is_seen() {
        // U+202E is the override with which "exe.gpj" reads "jpg.exe" (Unicode TR #36, 2.4 [MEM]).
        assert!(is_odd("2041\u{202E}1402", false) && is_odd("Ann\u{7}", true) && is_odd("a\nb", false));
        assert!(!is_odd("seized bolt\nsee photo\ttwo", true));
        // Accents, other scripts and the marks those need are text.
        for text in ["Núñez", "שלום", "\u{200F}ابواب", "\u{200D}", "—", ""] {
            assert!(!is_odd(text, false), "{text}");
        }
        assert_eq!(shown("a\u{202E}b\nc\u{0}", false), "a\u{FFFD}b c\u{FFFD}");
        assert_eq!(shown("a\nb\u{1b}[2J", true), "a\nb\u{FFFD}[2J");
    }
}
