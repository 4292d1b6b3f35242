//! Titles and names that look alike and are not the same, and words that mix scripts.
//!
//! Whoever reads a list takes two such titles for one: a Cyrillic letter among Latin ones, a character without ink, a
//! full-width letter. They are told to the reader and refused nowhere. Skeletons and script sets are those of Unicode
//! Technical Standard 39. What is not here: characters that a terminal obeys or hides; that is `visible`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;
use unicode_security::MixedScript as _;

use crate::visible::is_hidden;

/// Where the rules come from.
pub(crate) const SOURCE: &str = "Unicode Technical Standard 39";

/// What is to be known of a title, a name or a line of a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Code {
    /// Two look alike and are not the same.
    LookAlike,
    /// One word is written in more than one script.
    MixedScript,
    /// A rib or an etched line lies off its panel.
    OffPanel,
}

impl Code {
    /// The stable word for it.
    #[must_use]
    pub(crate) fn word(self) -> &'static str {
        match self {
            Code::LookAlike => "look-alike",
            Code::MixedScript => "mixed-script",
            Code::OffPanel => "off-panel",
        }
    }
}

/// One thing to know, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// What kind of thing.
    pub code: Code,
    /// The sentence.
    pub message: String,
}

/// A title or name as it is shown, with what bears it: `panel front`.
pub(crate) type Shown<'a> = (String, &'a str);

/// The pairs that look alike and are not the same: the first of each kind with every other way of writing it.
#[must_use]
pub(crate) fn alike(shown: &[Shown<'_>]) -> Vec<Note> {
    let mut of_skeleton: BTreeMap<String, Vec<&Shown<'_>>> = BTreeMap::new();
    for one in shown {
        let same = of_skeleton.entry(skeleton(one.1)).or_default();
        if same.iter().all(|other| other.1 != one.1) {
            same.push(one);
        }
    }
    let pairs = of_skeleton.values().flat_map(|same| same.iter().skip(1).map(|other| (same[0], *other)));
    let note = |(one, other): (&Shown<'_>, &Shown<'_>)| Note {
        code: Code::LookAlike,
        message: format!(
            "{} “{}” and {} “{}” look alike and are not written alike{}: rename one of them",
            one.0,
            one.1,
            other.0,
            other.1,
            points(
                one.1
                    .chars()
                    .filter(|c| !other.1.contains(*c))
                    .chain(other.1.chars().filter(|c| !one.1.contains(*c)))
            )
        ),
    };
    pairs.map(note).collect()
}

/// The titles and names in which a word mixes scripts.
#[must_use]
pub(crate) fn mixed(shown: &[Shown<'_>]) -> Vec<Note> {
    let note = |(what, text): &Shown<'_>| {
        let word = words(text).find(|word| mixes_scripts(word))?;
        let points = points(word.chars().filter(|c| !c.is_ascii()));
        Some(Note {
            code: Code::MixedScript,
            message: format!(
                "{what} “{text}” mixes scripts within the word “{word}”{points}: write it in one"
            ),
        })
    };
    shown.iter().filter_map(note).collect()
}

/// What a text looks like: equal for two that a reader cannot tell apart.
fn skeleton(text: &str) -> String {
    let inked: String = text.nfkc().filter(|c| c.is_whitespace() || !is_hidden(*c)).collect();
    let bare: String = unicode_security::skeleton(&inked).collect();
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a text, without what leaves no ink and without the signs of units, which stand beside Latin letters.
fn words(text: &str) -> impl Iterator<Item = String> {
    let inked: String = text.chars().filter(|c| c.is_whitespace() || !is_hidden(*c)).collect();
    let ends = |c: char| !c.is_alphanumeric() && !is_combining_mark(c);
    let of_units = |c: &char| matches!(c, 'µ' | 'μ' | 'Ω' | '\u{2126}');
    let words: Vec<String> =
        inked.split(ends).map(|word| word.chars().filter(|c| !of_units(c)).collect()).collect();
    words.into_iter()
}

/// True where no one writing system has every letter of a word. Latin letters beside those of an East Asian one are how
/// that is written.
fn mixes_scripts(word: &str) -> bool {
    if word.is_single_script() {
        return false;
    }
    let others: String = word.chars().filter(|c| !c.is_ascii_alphabetic()).collect();
    let set = others.as_str().resolve_script_set();
    !(set.hanb || set.jpan || set.kore)
}

/// Up to three characters by their numbers, in brackets; nothing for none.
fn points(characters: impl Iterator<Item = char>) -> String {
    let mut found: Vec<String> = Vec::new();
    for c in characters {
        let point = format!("U+{:04X}", u32::from(c));
        if !found.contains(&point) && found.len() < 3 {
            found.push(point);
        }
    }
    if found.is_empty() { String::new() } else { format!(" ({})", found.join(", ")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair<'t>(one: &'t str, other: &'t str) -> [Shown<'t>; 2] {
        [("panel a".to_owned(), one), ("panel b".to_owned(), other)]
    }

    #[test]
    fn what_looks_alike() {
        // The pairs of characters are from confusables.txt of Unicode Technical Standard 39, or without ink, or
        // compatibility forms of UnicodeData.txt.
        for (one, other) in [
            ("Front", "Fr\u{43e}nt"),
            ("Front", "Fro\u{200b}nt"),
            ("Front", "Fron\u{ad}t"),
            ("Front", "\u{ff26}\u{ff52}\u{ff4f}\u{ff4e}\u{ff54}"),
            ("Front bar", "Front\u{a0}bar"),
            ("Front bar", "Front  bar "),
            ("cop", "\u{441}\u{43e}\u{440}"),
            ("Caf\u{e9}", "Cafe\u{301}"),
            ("Panel 1", "Panel l"),
        ] {
            let notes = alike(&pair(one, other));
            assert_eq!(notes.len(), 1, "{one} {other}");
            assert_eq!(notes[0].code, Code::LookAlike);
            assert_eq!(alike(&pair(other, one)).len(), 1, "{one} {other}");
        }
        for (one, other) in
            [("Front", "Front"), ("Front", "front"), ("Front", "Back"), ("Wall 1", "Wall 2"), ("", "x")]
        {
            assert_eq!(alike(&pair(one, other)), [], "{one} {other}");
        }
        let notes = alike(&pair("Front", "Fr\u{43e}nt"));
        assert!(notes[0].message.contains("(U+006F, U+043E)"), "{}", notes[0].message);
        // Three ways to write one: each but the first is told once; the same again is not told.
        let four = ["Front", "Fr\u{43e}nt", "Front", "Front\u{200b}"].map(|text| ("p".to_owned(), text));
        assert_eq!(alike(&four).len(), 2);
    }

    #[test]
    fn words_that_mix_scripts() {
        for text in ["Fr\u{43e}nt", "bar Fr\u{43e}nt 2", "Fr\u{200b}\u{43e}nt", "\u{3b1}bc", "\u{3b1}\u{430}"]
        {
            let notes = mixed(&[("panel a".to_owned(), text)]);
            assert_eq!(notes.len(), 1, "{text}");
            assert_eq!(notes[0].code, Code::MixedScript);
        }
        for text in [
            "",
            "Front",
            "Theke 2 \u{d7} 3 m\u{b2}",
            "10 \u{b5}m, 5 k\u{3a9}",
            "\u{411}\u{430}\u{440} Front",
            "\u{411}\u{430}\u{440}-Front",
            "LED\u{30d1}\u{30cd}\u{30eb}",
            "\u{6771}\u{4eac}\u{306e}\u{5149}",
            "Caf\u{e9} Cafe\u{301}",
            "\u{5d0}\u{5d1}\u{5d2}",
        ] {
            assert_eq!(mixed(&[("panel a".to_owned(), text)]), [], "{text}");
        }
    }
}
