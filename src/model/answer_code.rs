//! The answer code of an item: ten letters by which somebody names, in any reply, exactly what they answer.
//!
//! ```text
//! K7F2-9QXM-4T
//! the item   its version   the check
//! ```
//! The first four letters are a digest of book, project, subject and role; the next four of the same with every fact that
//! an approval seals, so that another version of the item has another code and is still known as that item. The last two
//! make of the whole a code over GF(32) with a distance of 3: every wrong letter, every two wrong letters, and every swap
//! of any two letters is found. A digest is no secret: a code says what was answered and not who answered.
//!
//! Letters: digits and capitals without 0, 1, I and O. Forty bits tell items apart within a book; twenty tell the versions
//! of one item apart, so that of a million other versions one would be taken for it. Whoever takes a code in signs what was
//! meant, fact by fact, in any case.

use std::fmt;
use std::str::FromStr;

use super::roster::Role;
use super::statement::{Facts, Subject};
use crate::digest::Sha256Digest;
use crate::ids::{BookId, ProjectId};

/// The letters, each the number of its place.
const LETTERS: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";

/// Letters of a part: the item, and its version.
const PART: usize = 4;

/// Letters of a code.
const WHOLE: usize = 2 * PART + 2;

/// What the digests begin with, so that they are of nothing else.
const PURPOSE: &str = "underlit answer code 1";

/// The code of one version of one item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AnswerCode([u8; WHOLE]);

impl AnswerCode {
    /// The code of a subject as its facts are, asked of somebody in a role.
    #[must_use]
    pub fn of(book: &BookId, project: &ProjectId, subject: &Subject, role: Role, facts: &Facts) -> Self {
        // Subjects and facts are text and whole numbers under sorted names: their JSON has one spelling.
        let text = |value: serde_json::Result<String>| value.unwrap_or_default();
        let item = format!("{PURPOSE}\n{book}\n{project}\n{role}\n{}", text(serde_json::to_string(subject)));
        let version = format!("{item}\n{}", text(serde_json::to_string(facts)));
        let mut letters = [0; WHOLE];
        letters[..PART].copy_from_slice(&first_letters(&item));
        letters[PART..2 * PART].copy_from_slice(&first_letters(&version));
        let [first, second] = checks(&letters);
        letters[WHOLE - 2] = first;
        letters[WHOLE - 1] = second;
        AnswerCode(letters)
    }

    /// True where another code is of the same item, of whichever version.
    #[must_use]
    pub(crate) fn is_of_same_item(&self, other: &AnswerCode) -> bool {
        self.0[..PART] == other.0[..PART]
    }
}

/// Four letters of a text's digest: its first twenty bits.
fn first_letters(text: &str) -> [u8; PART] {
    let digest = Sha256Digest::of(text.as_bytes());
    let [a, b, c, ..] = *digest.as_bytes();
    let bits = u32::from_be_bytes([0, a, b, c]) >> 4;
    [15, 10, 5, 0].map(|shift| (bits >> shift & 31) as u8)
}

/// The sum and the weighted sum of all letters in GF(32); both are 0 of a code that is right.
fn sums(letters: &[u8; WHOLE]) -> [u8; 2] {
    let mut weight = 1;
    let mut sums = [0, 0];
    for letter in letters {
        sums[0] ^= letter;
        sums[1] ^= times(weight, *letter);
        weight = times(weight, 2);
    }
    sums
}

/// The two last letters that make both sums 0, the ones that stand there taken as 0.
fn checks(letters: &[u8; WHOLE]) -> [u8; 2] {
    let [sum, weighted] = sums(letters);
    // x + y = sum and w·x + 2w·y = weighted, so y = (weighted + w·sum) / 3w, where 3w is w + 2w.
    let w = (1..WHOLE - 1).fold(1, |weight, _| times(weight, 2));
    let y = times(weighted ^ times(w, sum), inverse(w ^ times(w, 2)));
    [sum ^ y, y]
}

/// The product in GF(32), by x⁵ + x² + 1; 2 generates the field.
fn times(a: u8, b: u8) -> u8 {
    (0..5).filter(|bit| b >> bit & 1 == 1).fold(0, |product, bit| {
        let shifted = (0..bit).fold(a, |a, _| if a & 16 == 0 { a << 1 } else { (a << 1 ^ 0b10_0101) & 31 });
        product ^ shifted
    })
}

/// a³⁰, which times a is 1 for every a but 0.
fn inverse(a: u8) -> u8 {
    (0..30).fold(1, |power, _| times(power, a))
}

impl fmt::Display for AnswerCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text: String = self.0.iter().map(|n| LETTERS[usize::from(*n)] as char).collect();
        write!(f, "{}-{}-{}", &text[..PART], &text[PART..2 * PART], &text[2 * PART..])
    }
}

/// Why a text is no answer code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeError {
    /// It has another number of letters.
    Length(usize),
    /// A letter that no code has.
    Letter(char),
    /// The check letters do not fit.
    Mistyped,
}

impl CodeError {
    /// A stable word for programs.
    #[must_use]
    pub(crate) fn code(self) -> &'static str {
        "code-mistyped"
    }
}

impl fmt::Display for CodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CodeError::Length(found) => {
                write!(f, "this code has {found} letters and digits; every answer code has {WHOLE}")
            }
            CodeError::Letter(letter) => write!(
                f,
                "this code has `{}`; answer codes have capitals and digits, but no 0, 1, I or O",
                letter.escape_debug()
            ),
            CodeError::Mistyped => {
                f.write_str("this code is mistyped: its last two letters do not fit the others")
            }
        }
    }
}

impl std::error::Error for CodeError {}

impl FromStr for AnswerCode {
    type Err = CodeError;

    /// Reads a code as people write it: small or capital letters, with or without hyphens and spaces.
    fn from_str(text: &str) -> Result<Self, CodeError> {
        let mut letters = [0; WHOLE];
        let mut count = 0;
        for c in text.chars().filter(|c| !matches!(c, '-' | '‐' | '‑' | '–') && !c.is_whitespace()) {
            let upper = c.to_ascii_uppercase();
            let number = LETTERS.iter().position(|letter| char::from(*letter) == upper);
            let number = number.ok_or(CodeError::Letter(c))?;
            if let Some(place) = letters.get_mut(count) {
                *place = number as u8;
            }
            count += 1;
        }
        if count != WHOLE {
            return Err(CodeError::Length(count));
        }
        if sums(&letters) != [0, 0] {
            return Err(CodeError::Mistyped);
        }
        Ok(AnswerCode(letters))
    }
}

#[cfg(test)]
mod tests {
    use super::super::statement::{Fact, View};
    use super::*;

    fn code(project: &str, panel: &str, height: i64) -> AnswerCode {
        let facts = Facts::from([("panel.height_um".to_owned(), Fact::Number(height))]);
        let panel = panel.parse().expect("a name");
        let subject = Subject::panel(View::Rendering, &panel);
        let (book, project) = ("harbour".parse().expect("a name"), project.parse().expect("a name"));
        AnswerCode::of(&book, &project, &subject, Role::Client, &facts)
    }

    #[test]
    fn the_field_is_a_field() {
        for a in 1..32 {
            assert_eq!(times(a, inverse(a)), 1);
            for b in 0..32 {
                assert_eq!(times(a, b), times(b, a));
                for c in 0..32 {
                    assert_eq!(times(a, b ^ c), times(a, b) ^ times(a, c));
                    assert_eq!(times(times(a, b), c), times(a, times(b, c)));
                }
            }
        }
        // 2 runs through the whole field, so that the weights of ten places differ.
        let powers: std::collections::BTreeSet<u8> =
            (0..31).scan(1, |p, _| Some(std::mem::replace(p, times(*p, 2)))).collect();
        assert_eq!(powers.len(), 31);
    }

    #[test]
    fn a_code_is_read_as_it_is_written_and_as_people_write_it() {
        for height in 0..200 {
            let code = code("quay-bar", "front", height);
            let text = code.to_string();
            assert_eq!(text.len(), 12);
            for written in [
                text.clone(),
                text.to_lowercase(),
                text.replace('-', ""),
                text.replace('-', " "),
                format!(" {} ", text.replace('-', "–")),
            ] {
                assert_eq!(written.parse(), Ok(code), "{written}");
            }
        }
    }

    #[test]
    fn every_wrong_letter_every_two_and_every_swap_is_found() {
        for height in 0..40 {
            let right = code("quay-bar", "front", height);
            for at in 0..WHOLE {
                for add in 1..32 {
                    let mut wrong = right;
                    wrong.0[at] ^= add;
                    assert_eq!(wrong.to_string().parse::<AnswerCode>(), Err(CodeError::Mistyped));
                    for (other, also) in (at + 1..WHOLE).flat_map(|o| [(o, 1), (o, 7), (o, 31)]) {
                        let mut two = wrong;
                        two.0[other] ^= also;
                        assert_eq!(two.to_string().parse::<AnswerCode>(), Err(CodeError::Mistyped));
                    }
                }
                for other in at + 1..WHOLE {
                    let mut swapped = right;
                    swapped.0.swap(at, other);
                    let read = swapped.to_string().parse::<AnswerCode>();
                    assert_eq!(read.is_ok(), swapped == right, "{swapped} of {right}");
                }
            }
        }
    }

    #[test]
    fn another_version_is_the_same_item_and_another_item_is_not() {
        let signed = code("quay-bar", "front", 700_000);
        assert_eq!(signed, code("quay-bar", "front", 700_000));
        let changed = code("quay-bar", "front", 701_000);
        assert!(changed != signed && changed.is_of_same_item(&signed));
        for other in [code("quay-bar", "back", 700_000), code("niche", "front", 700_000)] {
            assert!(!other.is_of_same_item(&signed), "{other} {signed}");
        }
    }

    /// Letters that people put in, leave out, double, mistake and swap, up to four at once.
    #[test]
    fn no_mutation_of_a_code_is_taken_for_another_item_or_version() {
        let known: std::collections::BTreeSet<AnswerCode> = (0..40)
            .flat_map(|panel| (0..50).map(move |height| (panel, height)))
            .map(|(panel, height)| code("quay-bar", &format!("panel-{panel}"), height))
            .collect();
        assert_eq!(known.len(), 2000);
        let all: Vec<AnswerCode> = known.iter().copied().collect();
        let mut seed: u64 = 20_261_125;
        let mut below = |limit: usize| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize % limit
        };
        let (mut read, mut refused) = (0, 0);
        for _ in 0..10_000 {
            let right = all[below(all.len())];
            let mut text: Vec<u8> = right.to_string().replace('-', "").into_bytes();
            for _ in 0..=below(4) {
                let at = below(text.len());
                match below(5) {
                    0 => text[at] = LETTERS[below(32)],
                    1 => text.insert(at, LETTERS[below(32)]),
                    2 => drop(text.remove(at)),
                    3 => text.insert(at, text[at]),
                    _ => {
                        let other = below(text.len());
                        text.swap(at, other);
                    }
                }
            }
            match String::from_utf8(text).expect("letters").parse::<AnswerCode>() {
                Ok(code) => {
                    read += 1;
                    assert!(code == right || !known.contains(&code), "{right} was taken for {code}");
                }
                Err(_) => refused += 1,
            }
        }
        assert!(read > 0 && refused > 9_000, "{read} read, {refused} refused");
    }

    #[test]
    fn what_is_no_code_says_why() {
        let read = |text: &str| text.parse::<AnswerCode>().map_err(|e| e.to_string()).expect_err("no code");
        assert!(read("").contains("0 letters"));
        assert!(read("K7F2-9QXM").contains("8 letters"));
        assert!(read("K7F2-9QXM-4T2").contains("11 letters"));
        for letter in ['0', '1', 'i', 'O', 'é', '\u{202e}', '_'] {
            let text = format!("K7F2-9QX{letter}-4T");
            assert!(read(&text).contains("no 0, 1, I or O"), "{}", read(&text));
        }
        assert!(read(&"K".repeat(100_000)).contains("100000 letters"));
    }
}
