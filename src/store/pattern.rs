//! The patterns of the schemas: regular expressions as JSON Schema has them (ECMA 262, with whole characters), no more of
//! the language than the schemas use, matched in time that grows with the text alone.
//!
//! A pattern is made ready in microseconds, where a regular expression library takes a hundred times as long: a command that
//! reads one job asks some thirty patterns of a few dozen characters. [`super::judge_beside_library`] compares the two.

use std::iter::Peekable;
use std::str::Chars;

/// A pattern made ready.
#[derive(Debug)]
pub(crate) struct Pattern(Vec<Step>);

/// One step of matching; a text matches where the end of the steps is reached.
#[derive(Clone, Debug)]
enum Step {
    /// One character within these ranges, or outside all of them.
    One { ranges: Vec<(char, char)>, within: bool },
    /// The beginning of the text.
    Start,
    /// Its end.
    End,
    /// What comes next begins with something, or does not.
    Ahead { steps: Vec<Step>, does: bool },
    /// Goes on at either of two steps.
    Either(usize, usize),
}

/// What a pattern says, as it is read.
enum Says {
    Step(Step),
    InTurn(Vec<Says>),
    AnyOf(Vec<Says>),
    Times(Box<Says>, usize, Option<usize>),
}

/// White space and ends of lines (ECMA 262, 12.2 and 12.3).
const SPACE: [(char, char); 10] = [
    ('\t', '\r'),
    (' ', ' '),
    ('\u{a0}', '\u{a0}'),
    ('\u{1680}', '\u{1680}'),
    ('\u{2000}', '\u{200a}'),
    ('\u{2028}', '\u{2029}'),
    ('\u{202f}', '\u{202f}'),
    ('\u{205f}', '\u{205f}'),
    ('\u{3000}', '\u{3000}'),
    ('\u{feff}', '\u{feff}'),
];

/// What `.` leaves out.
const LINE_ENDS: [(char, char); 3] = [('\n', '\n'), ('\r', '\r'), ('\u{2028}', '\u{2029}')];

/// The most steps that a pattern may come to.
const MOST_STEPS: usize = 5_000;

impl Pattern {
    /// Reads a pattern; none where it uses more of the language than is understood here.
    #[must_use]
    pub(crate) fn read(text: &str) -> Option<Pattern> {
        let mut reader = Reader(text.chars().peekable());
        let says = reader.any_of()?;
        let mut steps = Vec::new();
        reader.0.peek().is_none().then(|| lay_out(&says, &mut steps))??;
        Some(Pattern(steps))
    }

    /// True where a text has a part that matches.
    #[must_use]
    pub(crate) fn is_in(&self, text: &str) -> bool {
        let anchored = matches!(self.0.first(), Some(Step::Start));
        matches(&self.0, text, true, !anchored)
    }
}

struct Reader<'p>(Peekable<Chars<'p>>);

impl Reader<'_> {
    fn takes(&mut self, wanted: char) -> bool {
        self.0.next_if_eq(&wanted).is_some()
    }

    fn any_of(&mut self) -> Option<Says> {
        let mut choices = vec![self.in_turn()?];
        while self.takes('|') {
            choices.push(self.in_turn()?);
        }
        Some(Says::AnyOf(choices))
    }

    fn in_turn(&mut self) -> Option<Says> {
        let mut all = Vec::new();
        while let Some(next) = self.0.next_if(|next| !matches!(next, '|' | ')')) {
            let one = self.one(next)?;
            all.push(self.times(one)?);
        }
        Some(Says::InTurn(all))
    }

    fn one(&mut self, first: char) -> Option<Says> {
        let among = |ranges: &[(char, char)], within| Step::One { ranges: ranges.to_vec(), within };
        Some(Says::Step(match first {
            '^' => Step::Start,
            '$' => Step::End,
            '.' => among(&LINE_ENDS, false),
            '[' => {
                let within = !self.takes('^');
                let ranges = self.ranges()?;
                Step::One { ranges, within }
            }
            '\\' => {
                let (ranges, within) = self.escaped()?;
                Step::One { ranges, within }
            }
            '(' => {
                let does =
                    if self.takes('?') { Some(self.0.next().filter(|c| "=!:".contains(*c))?) } else { None };
                let inner = self.any_of()?;
                if !self.takes(')') {
                    return None;
                }
                match does {
                    None | Some(':') => return Some(inner),
                    Some(mark) => {
                        let mut steps = Vec::new();
                        lay_out(&inner, &mut steps)?;
                        Step::Ahead { steps, does: mark == '=' }
                    }
                }
            }
            '*' | '+' | '?' | '{' | '}' | ']' => return None,
            plain => among(&[(plain, plain)], true),
        }))
    }

    /// How often the last may stand.
    fn times(&mut self, one: Says) -> Option<Says> {
        let (least, most) = match self.0.peek() {
            Some('*') => (0, None),
            Some('+') => (1, None),
            Some('?') => (0, Some(1)),
            Some('{') => {
                self.0.next();
                let least = self.number()?;
                let most = match self.takes(',') {
                    false => Some(least),
                    true if self.0.peek() == Some(&'}') => None,
                    true => Some(self.number()?),
                };
                (least, most)
            }
            _ => return Some(one),
        };
        self.0.next().filter(|last| matches!(last, '*' | '+' | '?' | '}'))?;
        let again = matches!(self.0.peek(), Some('*' | '+' | '?' | '{'));
        (!again).then(|| Says::Times(Box::new(one), least, most))
    }

    fn number(&mut self) -> Option<usize> {
        let mut digits = String::new();
        while let Some(digit) = self.0.next_if(char::is_ascii_digit) {
            digits.push(digit);
        }
        digits.parse().ok().filter(|number| *number <= MOST_STEPS)
    }

    /// What stands after a backslash: its ranges, and whether they are meant or all else.
    fn escaped(&mut self) -> Option<(Vec<(char, char)>, bool)> {
        Some(match self.0.next()? {
            's' => (SPACE.to_vec(), true),
            'S' => (SPACE.to_vec(), false),
            'u' => {
                let digits: String = (0..4).map_while(|_| self.0.next()).collect();
                let one = char::from_u32(u32::from_str_radix(&digits, 16).ok()?)?;
                (vec![(one, one)], true)
            }
            letter if letter.is_alphanumeric() => return None,
            mark => (vec![(mark, mark)], true),
        })
    }

    /// The rest of a class, up to its bracket.
    fn ranges(&mut self) -> Option<Vec<(char, char)>> {
        let mut all = Vec::new();
        loop {
            let first = match self.0.next()? {
                ']' => return Some(all),
                '\\' => match self.escaped()? {
                    (one, true) if one.len() == 1 => one[0].0,
                    (ranges, true) => {
                        all.extend(ranges);
                        continue;
                    }
                    (ranges, false) => {
                        all.extend(outside(&ranges));
                        continue;
                    }
                },
                plain => plain,
            };
            let mut ahead = self.0.clone();
            let to = (ahead.next() == Some('-') && ahead.next().is_some_and(|next| next != ']')).then(|| {
                self.0.next();
                match self.0.next()? {
                    '\\' => self
                        .escaped()
                        .filter(|(one, within)| *within && one.len() == 1)
                        .map(|(one, _)| one[0].0),
                    plain => Some(plain),
                }
            });
            let last = to.unwrap_or(Some(first)).filter(|last| first <= *last)?;
            all.push((first, last));
        }
    }
}

/// Every character outside some ranges, which stand in order.
fn outside(ranges: &[(char, char)]) -> Vec<(char, char)> {
    let mut all = Vec::new();
    let mut from = Some('\0');
    for (first, last) in ranges {
        if let Some(from) = from.filter(|from| from < first) {
            all.push((from, (from..*first).next_back().unwrap_or(from)));
        }
        from = (*last..=char::MAX).nth(1);
    }
    all.extend(from.map(|from| (from, char::MAX)));
    all
}

/// Turns what a pattern says into steps; none where they are too many.
fn lay_out(says: &Says, steps: &mut Vec<Step>) -> Option<()> {
    match says {
        Says::Step(step) => steps.push(step.clone()),
        Says::InTurn(all) => all.iter().try_for_each(|one| lay_out(one, steps))?,
        Says::AnyOf(choices) => {
            let mut leave = Vec::new();
            for (nth, choice) in choices.iter().enumerate() {
                let fork = steps.len();
                let last = nth + 1 == choices.len();
                if !last {
                    steps.push(Step::Either(fork + 1, 0));
                }
                lay_out(choice, steps)?;
                if !last {
                    leave.push(steps.len());
                    steps.push(Step::Either(0, 0));
                    steps[fork] = Step::Either(fork + 1, steps.len());
                }
            }
            let end = steps.len();
            leave.into_iter().for_each(|from| steps[from] = Step::Either(end, end));
        }
        Says::Times(one, least, most) => {
            (0..*least).try_for_each(|_| lay_out(one, steps))?;
            match most {
                None => {
                    let fork = steps.len();
                    steps.push(Step::Either(fork + 1, 0));
                    lay_out(one, steps)?;
                    steps.push(Step::Either(fork, fork));
                    steps[fork] = Step::Either(fork + 1, steps.len());
                }
                Some(most) => {
                    let mut leave = Vec::new();
                    for _ in *least..*most {
                        leave.push(steps.len());
                        steps.push(Step::Either(0, 0));
                        lay_out(one, steps)?;
                    }
                    let end = steps.len();
                    leave.into_iter().for_each(|from| steps[from] = Step::Either(from + 1, end));
                }
            }
        }
    }
    (steps.len() <= MOST_STEPS).then_some(())
}

/// True where the steps match from the beginning of a text, or, `anywhere`, from a place in it. Every way through the steps
/// is followed at once, each step at most once for a character.
fn matches(steps: &[Step], text: &str, at_start: bool, anywhere: bool) -> bool {
    let (mut now, mut next) = (Ways::new(steps.len()), Ways::new(steps.len()));
    let mut places = text.char_indices().map(|(at, one)| (at, Some(one))).chain([(text.len(), None)]);
    places.any(|(at, one)| {
        if at == 0 || anywhere {
            now.go(steps, 0, &text[at..], at_start && at == 0);
        }
        if now.done {
            return true;
        }
        let Some(one) = one else { return false };
        let rest = &text[at + one.len_utf8()..];
        for step in now.at.drain(..) {
            if let Step::One { ranges, within } = &steps[step]
                && ranges.iter().any(|(first, last)| (*first..=*last).contains(&one)) == *within
            {
                next.go(steps, step + 1, rest, false);
            }
        }
        now.clear();
        std::mem::swap(&mut now, &mut next);
        now.done
    })
}

/// The steps at which matching stands.
struct Ways {
    at: Vec<usize>,
    waiting: Vec<usize>,
    been: Vec<bool>,
    done: bool,
}

impl Ways {
    fn new(steps: usize) -> Ways {
        Ways { at: Vec::new(), waiting: Vec::new(), been: vec![false; steps], done: false }
    }

    fn clear(&mut self) {
        self.at.clear();
        self.been.fill(false);
        self.done = false;
    }

    /// Goes to a step, and on from it while no character is needed.
    fn go(&mut self, steps: &[Step], to: usize, rest: &str, at_start: bool) {
        self.waiting.push(to);
        while let Some(nth) = self.waiting.pop() {
            let Some(step) = steps.get(nth) else {
                self.done = true;
                continue;
            };
            if std::mem::replace(&mut self.been[nth], true) {
                continue;
            }
            match step {
                Step::One { .. } => self.at.push(nth),
                Step::Either(one, other) => self.waiting.extend([*other, *one]),
                Step::Start if at_start => self.waiting.push(nth + 1),
                Step::End if rest.is_empty() => self.waiting.push(nth + 1),
                Step::Ahead { steps, does } if matches(steps, rest, at_start, false) == *does => {
                    self.waiting.push(nth + 1);
                }
                Step::Start | Step::End | Step::Ahead { .. } => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_say_what_the_language_has_them_say() {
        let cases: &[(&str, &[&str], &[&str])] = &[
            ("^a{2,3}$", &["aa", "aaa"], &["a", "aaaa", "aab"]),
            ("^a{2,}b?$", &["aa", "aaaab"], &["a", "ab"]),
            ("^(ab|c)*$", &["", "abc", "cab"], &["a", "abd"]),
            ("b|^c", &["abd", "cd"], &["dc", ""]),
            ("^[^a-c-]$", &["d", "ä"], &["b", "-", "", "dd"]),
            ("^[\\s\\S]$", &["a", "\n", "\u{2028}", "\u{10ffff}"], &["", "ab"]),
            ("^\\S.$", &["ab"], &[" b", "a\n", "a\u{2029}"]),
            ("^(?!con$)(?=c)[a-z]+$", &["cone", "c"], &["con", "on", "c1"]),
            ("^[\\u0041-\\u0043]\\.$", &["A.", "C."], &["D.", "AB"]),
            (" AWG$", &["12 AWG"], &["12 AWG\n", "12AWG"]),
            ("", &["", "a"], &[]),
        ];
        for (pattern, good, bad) in cases {
            let read = Pattern::read(pattern).expect(pattern);
            good.iter().for_each(|text| assert!(read.is_in(text), "{pattern} {text:?}"));
            bad.iter().for_each(|text| assert!(!read.is_in(text), "{pattern} {text:?}"));
        }
    }

    #[test]
    fn what_is_not_understood_is_not_read() {
        for pattern in [
            "a**", "a+?", "(a", "a)", "[a", "\\d", "\\p{L}", "(?<=a)b", "a{3", "[b-a]", "a{9999}", "*",
            "a{1,2",
        ] {
            assert!(Pattern::read(pattern).is_none(), "{pattern}");
        }
    }

    #[test]
    fn a_long_text_takes_no_longer_than_its_length() {
        let long = "a-".repeat(50_000);
        let name = Pattern::read("^[a-z0-9]+(-[a-z0-9]+)*$").expect("read");
        assert!(!name.is_in(&long));
        assert!(name.is_in(&long[..long.len() - 1]));
    }
}
