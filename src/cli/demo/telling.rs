//! How a command and its output stand on the screen: wrapped to a width that every terminal has, indented so that
//! telling, typing and answering are told apart without colour.
//!
//! What a command says is shown as it was said; only long output is cut, and then it says by how much.

use super::super::wording::wrapped;

/// The columns that are used at most.
pub(super) const COLUMNS: usize = 100;

/// A text for reading, as lines of at most [`COLUMNS`] columns.
pub(super) fn paragraph(text: &str) -> Vec<String> {
    wrapped(text, COLUMNS, "")
}

/// A heading with its rule.
pub(super) fn heading(text: &str) -> String {
    let used = text.chars().count() + 4;
    format!("── {text} {}", "─".repeat(COLUMNS.saturating_sub(used)))
}

/// A command as its person types it, broken with backslashes where it is long; an option stays with its value.
pub(super) fn command(person: &str, words: &[String]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = format!("  {person}$");
    let mut rest = words;
    while let [first, further @ ..] = rest {
        let with_value = first.starts_with('-') && further.first().is_some_and(|w| !w.starts_with('-'));
        let (part, left) = rest.split_at(1 + usize::from(with_value));
        let part = part.join(" ");
        if line.chars().count() + 1 + part.chars().count() > COLUMNS - 2 {
            lines.push(format!("{line} \\"));
            line = format!("  {:width$}   ", "", width = person.len());
        }
        line.push(' ');
        line.push_str(&part);
        rest = left;
    }
    lines.push(line);
    lines
}

/// What a command said, indented. Where that is more than `most` lines, those in the middle are left out: the end
/// says how it ended.
pub(super) fn output(text: &str, most: usize) -> Vec<String> {
    const INDENT: &str = "    │ ";
    const END: usize = 2;
    let lines: Vec<&str> = text.trim_end().lines().collect();
    // A line that says that one line is left out saves none.
    let out = if lines.len() > most + 1 { lines.len() - most } else { 0 };
    let (start, end) =
        (lines.len() - out).checked_sub(END).filter(|_| out > 0).map_or((lines.len(), 0), |s| (s, END));
    let mut told: Vec<String> = Vec::new();
    let mut tell = |line: &str| {
        let depth = line.chars().take_while(|c| *c == ' ').count();
        let room = COLUMNS - INDENT.chars().count();
        let wrapped = wrapped(line, room, &" ".repeat(depth + 2));
        told.extend(wrapped.into_iter().map(|l| format!("{INDENT}{l}").trim_end().to_owned()));
    };
    lines[..start].iter().for_each(|line| tell(line));
    if out > 0 {
        tell(&format!("[… {out} more lines]"));
    }
    lines[lines.len() - end..].iter().for_each(|line| tell(line));
    told
}

/// The words of a command line, with the quotes in which they are typed.
pub(super) fn typed_words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => {
                quoted = !quoted;
                word.push(c);
            }
            ' ' if !quoted => words.extend(Some(std::mem::take(&mut word)).filter(|w| !w.is_empty())),
            _ => word.push(c),
        }
    }
    words.extend(Some(word).filter(|w| !w.is_empty()));
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_keep_their_quotes_and_stay_whole() {
        let words = typed_words("open quay --title \"Bar front, quay\" --note \"\"");
        assert_eq!(words, ["open", "quay", "--title", "\"Bar front, quay\"", "--note", "\"\""]);
    }

    #[test]
    fn an_option_stays_with_its_value() {
        let words = typed_words(&format!("do {} --place \"quay 4\" --yes", "x".repeat(80)));
        assert_eq!(command("imke", &words)[1], "          --place \"quay 4\" --yes");
    }

    #[test]
    fn nothing_is_wider_than_the_screen() {
        let words: Vec<String> = (0..40).map(|n| format!("word-{n}")).collect();
        let long = words.join(" ");
        let all = [
            command("imke", &words),
            output(&format!("    {long}"), 9),
            paragraph(&long),
            vec![heading("x")],
        ];
        for line in all.concat() {
            assert!(line.chars().count() <= COLUMNS, "{line}");
        }
        let told = output(&format!("    {long}"), 9);
        assert!(told[1].starts_with("    │       word-"), "{told:?}");
        assert_eq!(told.concat().matches("word-").count(), 40);
    }

    #[test]
    fn long_output_says_how_much_is_left_out() {
        let text: String = (0..9).map(|n| format!("{n}\n")).collect();
        let told = output(&text, 4);
        assert_eq!(told, ["0", "1", "[… 5 more lines]", "7", "8"].map(|l| format!("    │ {l}")));
        assert_eq!(output(&text, 8).len(), 9, "a single line is not left out to save a line");
    }
}
