//! Words in a drawing: letters are no lines to cut, so whoever drew them is told which are ignored, and what to do.

/// The most letters that are told of one text, and the most texts that are told one by one.
const MOST_LETTERS: usize = 40;
const MOST_TEXTS: usize = 6;

/// What to say about texts that were ignored; none where there were none.
pub(super) fn ignored_text(texts: &[String]) -> Option<String> {
    if texts.is_empty() {
        return None;
    }
    let mut told: Vec<String> = texts.iter().take(MOST_TEXTS).map(|text| quoted(text)).collect();
    if texts.len() > MOST_TEXTS {
        told.push(format!("{} more", texts.len() - MOST_TEXTS));
    }
    Some(format!(
        "ignored text {}: letters are not lines to cut. To cut or etch them, convert the text to outlines (curves) in the \
         drawing program and save again",
        told.join(", ")
    ))
}

fn quoted(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let short: String = text.chars().take(MOST_LETTERS).collect();
    let more = if short.len() < text.len() { "…" } else { "" };
    format!("\"{short}{more}\"")
}

/// The words of a DXF MTEXT without its formatting codes: `{\\fArial|b0;Hall\\P3}` is `Hall 3`. The codes are the DXF
/// reference's, from memory.
pub(super) fn without_codes(text: &str) -> String {
    let mut plain = String::new();
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '{' | '}' => {}
            '\\' => match letters.next() {
                Some('P' | '~') => plain.push(' '),
                Some(own @ ('\\' | '{' | '}')) => plain.push(own),
                // Codes with a value end at a semicolon; the others are one letter.
                Some('f' | 'F' | 'H' | 'W' | 'Q' | 'T' | 'A' | 'C' | 'c' | 'p' | 'S') => {
                    letters.by_ref().find(|l| *l == ';');
                }
                _ => {}
            },
            other => plain.push(other),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_told_by_their_words() {
        let texts = |n: usize| (0..n).map(|i| format!("No. {i}")).collect::<Vec<_>>();
        assert_eq!(ignored_text(&[]), None);
        assert!(ignored_text(&texts(1)).is_some_and(|t| t.starts_with("ignored text \"No. 0\": ")));
        assert!(ignored_text(&texts(9)).is_some_and(|t| t.contains("\"No. 5\", 3 more:")));
        assert_eq!(without_codes("{\\fArial|b0|i0;Hall\\P3} \\H2.5;high \\{x\\}"), "Hall 3 high {x}");
    }
}
