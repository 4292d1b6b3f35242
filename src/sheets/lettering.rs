//! How long texts are in the embedded font, and how they are made to fit.
//!
//! Widths come from the same shaper that draws, with the same font, so a box that fits here fits on paper. Text
//! is never cut off: it is set smaller, wrapped, or refused so that the caller finds it another place.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::OnceLock;

use rustybuzz::{Face, UnicodeBuffer};
use unicode_normalization::UnicodeNormalization as _;

use super::ink::{LEADING, Lettering, Weight};
use crate::visible::is_hidden;

/// What stands for a character that the embedded font does not have.
pub(crate) const UNPRINTABLE: char = '□';

fn face(weight: Weight) -> &'static Face<'static> {
    static FACES: OnceLock<[Face<'static>; 2]> = OnceLock::new();
    let [regular, bold] = FACES.get_or_init(|| {
        [notosans::REGULAR_TTF, notosans::BOLD_TTF]
            .map(|bytes| Face::from_slice(bytes, 0).expect("the embedded fonts are whole"))
    });
    match weight {
        Weight::Regular => regular,
        Weight::Bold => bold,
    }
}

/// A text as it can be printed: composed, without controls or direction overrides, white space as single spaces,
/// and [`UNPRINTABLE`] for each character that the font lacks. Line breaks are kept.
#[must_use]
pub(crate) fn printable(text: &str) -> String {
    let mut clean = String::new();
    // A grave accent that quotes a word would be set as an accent over its first letter.
    let mut quoted = false;
    let quotes = text.nfc().map(|c| match c {
        '`' => {
            quoted = !quoted;
            if quoted { '‘' } else { '’' }
        }
        other => other,
    });
    for c in quotes {
        if c == '\n' {
            while clean.ends_with(' ') {
                clean.pop();
            }
            clean.push('\n');
        } else if c.is_whitespace() {
            if !clean.is_empty() && !clean.ends_with([' ', '\n']) {
                clean.push(' ');
            }
        } else if is_hidden(c) || matches!(c, '\u{fe00}'..='\u{fe0f}') {
            // Variation selectors have no ink either.
        } else if face(Weight::Regular).glyph_index(c).is_some_and(|glyph| glyph.0 != 0) {
            clean.push(c);
        } else {
            clean.push(UNPRINTABLE);
        }
    }
    clean.trim().to_string()
}

/// How long a line of printable text is, in millimetres.
#[must_use]
pub(crate) fn width_mm(text: &str, lettering: Lettering) -> f64 {
    units(text, lettering.weight) / f64::from(face(lettering.weight).units_per_em()) * lettering.size_mm
}

/// The length of a line in the font's units. Shaping is what a sheet spends its time on, and the same short texts
/// are asked for again and again while places are tried, so the last ones are remembered.
fn units(text: &str, weight: Weight) -> f64 {
    const LONGEST: usize = 200;
    const MOST: usize = 4096;
    thread_local! {
        static KNOWN: RefCell<[HashMap<String, f64>; 2]> = RefCell::default();
    }
    if text.len() > LONGEST {
        return shaped_units(text, weight);
    }
    KNOWN.with_borrow_mut(|known| {
        let known = &mut known[usize::from(weight == Weight::Bold)];
        if let Some(units) = known.get(text) {
            return *units;
        }
        if known.len() >= MOST {
            known.clear();
        }
        let units = shaped_units(text, weight);
        known.insert(text.to_string(), units);
        units
    })
}

fn shaped_units(text: &str, weight: Weight) -> f64 {
    let face = face(weight);
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.set_direction(rustybuzz::Direction::LeftToRight);
    let glyphs = rustybuzz::shape(face, &[], buffer);
    let units: i64 = glyphs.glyph_positions().iter().map(|g| i64::from(g.x_advance)).sum();
    units as f64
}

/// The lines into which a text breaks so that none is longer than `longest_mm`: at spaces, and inside a word only
/// where the word alone is too long.
#[must_use]
pub(crate) fn wrapped(text: &str, lettering: Lettering, longest_mm: f64) -> Vec<String> {
    // Words and spaces are measured apart: no letter is drawn closer for a space beside it in this font, and a
    // word is met again and again while widths are tried. The allowance is for rounding.
    let longest_mm = longest_mm - 1e-6;
    let space = width_mm(" ", lettering);
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let (mut line, mut length) = (String::new(), 0.0);
        for word in paragraph.split(' ').filter(|w| !w.is_empty()) {
            let wide = if word.len() > MOST_MEASURED { f64::INFINITY } else { width_mm(word, lettering) };
            if !line.is_empty() && length + space + wide <= longest_mm {
                line.push(' ');
                line.push_str(word);
                length += space + wide;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            if wide <= longest_mm {
                line.push_str(word);
                length = wide;
                continue;
            }
            for c in word.chars() {
                line.push(c);
                length = width_mm(&line, lettering);
                if length > longest_mm && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                    length = width_mm(&line, lettering);
                }
            }
        }
        lines.push(line);
    }
    lines
}

/// A word of more bytes than this is broken without being measured whole: no sheet has a line that long.
const MOST_MEASURED: usize = 2000;

/// A text set so that it fits a box.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fitted {
    /// The lines.
    pub lines: Vec<String>,
    /// The lettering in which they fit.
    pub lettering: Lettering,
}

impl Fitted {
    /// How high the lines stand together, in millimetres.
    #[must_use]
    pub(crate) fn height_mm(&self) -> f64 {
        self.lines.len() as f64 * LEADING * self.lettering.size_mm
    }
}

/// Sets a text into a box: at the wished size, else smaller in steps down to `least_mm`, wrapped as needed.
/// `None` where even the least size does not hold it.
#[must_use]
pub(crate) fn fitted(
    text: &str,
    wish: Lettering,
    least_mm: f64,
    width_mm: f64,
    height_mm: f64,
) -> Option<Fitted> {
    let mut size_mm = wish.size_mm;
    loop {
        let lettering = Lettering { size_mm, ..wish };
        // Wrapping a text that could never fit would take long: a letter takes a fifth of its size and more.
        let most = (width_mm / (0.2 * size_mm)).max(1.0) * (height_mm / (LEADING * size_mm)).max(1.0);
        if (text.chars().count() as f64) <= most {
            let set = Fitted { lines: wrapped(text, lettering, width_mm), lettering };
            let within = set.lines.iter().all(|line| self::width_mm(line, lettering) <= width_mm);
            let broken_word = set.lines.len() > 1 && !breaks_at_spaces(text, &set.lines);
            let last = size_mm <= least_mm;
            if within && set.height_mm() <= height_mm && (!broken_word || last) {
                return Some(set);
            }
        }
        if size_mm <= least_mm {
            return None;
        }
        size_mm = (size_mm * 0.92).max(least_mm);
    }
}

fn breaks_at_spaces(text: &str, lines: &[String]) -> bool {
    text.split(['\n', ' ']).filter(|w| !w.is_empty()).count()
        == lines.iter().flat_map(|l| l.split(' ')).filter(|w| !w.is_empty()).count()
}

#[cfg(test)]
mod tests {
    use super::super::ink::{NAME, SMALL};
    use super::*;

    #[test]
    fn text_that_could_mislead_or_vanish_is_made_plain() {
        assert_eq!(printable("a\u{202e}b\u{0}c\t d "), "abc d");
        assert_eq!(printable("אב!"), "□□!");
        assert_eq!(printable("e\u{301} ½ Ø ×"), "é ½ Ø ×");
        assert_eq!(printable(" one \n two"), "one\ntwo");
    }

    #[test]
    fn wrapped_lines_keep_every_letter_and_the_width() {
        let text =
            "a long remark about the seam, Donaudampfschifffahrtsgesellschaftskapitaenspatent and more";
        for longest in [12.0, 30.0, 60.0] {
            let lines = wrapped(text, SMALL, longest);
            assert!(lines.iter().all(|l| width_mm(l, SMALL) <= longest), "{lines:?}");
            let letters = |s: &str| s.chars().filter(|c| *c != ' ').collect::<String>();
            assert_eq!(letters(&lines.concat()), letters(text));
        }
    }

    #[test]
    fn fitting_shrinks_then_refuses() {
        let fits = fitted("Reception desk", NAME, 1.8, 60.0, 6.0).expect("it fits at full size");
        assert_eq!(fits.lettering, NAME);
        let small = fitted("Reception desk, front panel", NAME, 1.8, 35.0, 4.0).expect("it fits smaller");
        assert!(small.lettering.size_mm < NAME.size_mm && small.height_mm() <= 4.0);
        assert_eq!(fitted(&"word ".repeat(400), NAME, 1.8, 40.0, 10.0), None);
    }
}
