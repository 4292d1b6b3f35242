//! Days, people and what is waited for, in words.

use jiff::civil::{Date, Weekday};

use super::facts::{Book, Card, Wait, WaitState};
use super::person_file;
use crate::html::Html;
use crate::model::roster::Role;
use crate::model::stage::Stage;
use crate::words::business_days;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A day: `28 November 2026`.
#[must_use]
pub(crate) fn day(date: Date) -> String {
    let month = MONTHS.get(date.month() as usize - 1).copied().unwrap_or_default();
    format!("{} {month} {}", date.day(), date.year())
}

/// The same where room is short: `28 Nov 2026`.
pub(super) fn short_day(date: Date) -> String {
    let month = MONTHS.get(date.month() as usize - 1).copied().unwrap_or_default();
    format!("{} {} {}", date.day(), month.get(..3).unwrap_or(month), date.year())
}

/// A day within a week that is named: `Mon 30 November`.
pub(super) fn weekday(date: Date) -> String {
    let name = match date.weekday() {
        Weekday::Monday => "Mon",
        Weekday::Tuesday => "Tue",
        Weekday::Wednesday => "Wed",
        Weekday::Thursday => "Thu",
        Weekday::Friday => "Fri",
        Weekday::Saturday => "Sat",
        Weekday::Sunday => "Sun",
    };
    let month = MONTHS.get(date.month() as usize - 1).copied().unwrap_or_default();
    format!("{name} {} {month}", date.day())
}

/// The Monday of a day's week.
pub(super) fn monday(date: Date) -> Date {
    let back = jiff::Span::new().days(i64::from(date.weekday().to_monday_zero_offset()));
    date.checked_sub(back).unwrap_or(date)
}

/// A stage as a word of a sentence's beginning.
pub(super) fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Intake => "Intake",
        Stage::Sampling => "Sampling",
        Stage::Selection => "Selection",
        Stage::Rendering => "Rendering",
        Stage::Released => "Released",
        Stage::Built => "Built",
        Stage::HandedOver => "Handed over",
    }
}

/// A text with its first letter large.
pub(super) fn begun(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A text with the point at its end, where it has no end yet.
pub(super) fn ended(text: &str) -> String {
    let bare = text.trim_end_matches(['”', '’', ')', '"']);
    if bare.ends_with(['.', '!', '?', '…']) { text.to_owned() } else { format!("{text}.") }
}

/// A day as an element that programs can read.
pub(super) fn time(html: &mut Html, date: Date, shown: &str) {
    html.open("time", &[("datetime", &date.to_string())]).text(shown).raw("</time>");
}

/// Such texts as a list without marks.
pub(super) fn ticked_list<T: AsRef<str>>(html: &mut Html, texts: impl IntoIterator<Item = T>) {
    html.raw("<ul class=\"plain\">");
    for text in texts {
        html.raw("<li>");
        ticked(html, text.as_ref());
        html.raw("</li>");
    }
    html.raw("</ul>");
}

/// A text in which what stands between grave accents is code.
pub(super) fn ticked(html: &mut Html, text: &str) {
    let parts: Vec<&str> = text.split('`').collect();
    // One that is not closed is a letter like any other.
    let whole = parts.len() % 2 == 1;
    for (at, part) in parts.iter().enumerate() {
        match (at % 2 == 1, whole) {
            (true, true) => html.raw("<code>").text(part).raw("</code>"),
            (_, false) if at > 0 => html.text("`").text(part),
            _ => html.text(part),
        };
    }
}

/// What is to be done, without its end.
pub(super) fn act(wait: &Wait) -> String {
    match (&wait.asks, wait.state) {
        (Some(asks), WaitState::Missing) => format!("approve {asks}"),
        (Some(asks), WaitState::Stale) => format!("approve {asks} again, which has changed since"),
        _ => wait.what.clone(),
    }
}

/// Roles in words.
pub(super) fn roles(roles: &[Role]) -> String {
    roles.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// Whose turn it is, each name with a link; the role where nobody has it.
pub(super) fn who(html: &mut Html, book: &Book, wait: &Wait, up: &str) {
    html.raw("<span class=\"who\">");
    if wait.people.is_empty() {
        let nobody = if wait.roles.is_empty() { "anybody".to_owned() } else { roles(&wait.roles) };
        html.text(&begun(&nobody));
    }
    for (at, id) in wait.people.iter().enumerate() {
        html.raw(if at > 0 { " or " } else { "" });
        person(html, book, id, up);
    }
    html.raw("</span>");
}

/// Somebody's name, with a link to their page.
pub(super) fn person(html: &mut Html, book: &Book, id: &str, up: &str) {
    let link = format!("{up}{}", person_file(id));
    html.open("a", &[("href", &link)]).said(book.name(id)).raw("</a>");
}

/// How a job stands against its install date: the class of the words, and the words.
pub(super) fn against_install(card: &Card) -> (&'static str, String) {
    match (card.late, card.spare, &card.no_dates) {
        (true, Some(days), _) => ("late", format!("{} too late", business_days(days))),
        (true, None, _) => ("late", "too late".into()),
        (false, Some(days), _) => ("", format!("{} to spare", business_days(days))),
        (false, None, Some(_)) => ("", "cannot be counted".into()),
        (false, None, None) => ("", String::new()),
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn days_and_weeks() {
        assert_eq!(day(date(2026, 11, 28)), "28 November 2026");
        assert_eq!(short_day(date(2026, 9, 1)), "1 Sep 2026");
        assert_eq!(weekday(date(2026, 11, 28)), "Sat 28 November");
        for day in 23..=29 {
            assert_eq!(monday(date(2026, 11, day)), date(2026, 11, 23));
        }
    }

    #[test]
    fn only_what_stands_between_two_grave_accents_is_code() {
        let shown = |text: &str| {
            let mut html = Html::default();
            ticked(&mut html, text);
            html.as_str().to_owned()
        };
        assert_eq!(shown("plain"), "plain");
        assert_eq!(shown("a `b<` c"), "a <code>b&lt;</code> c");
        assert_eq!(shown("a ` b"), "a ` b");
        assert_eq!(shown("`a` ` b"), "`a` ` b");
        assert_eq!(begun("élan"), "Élan");
        assert_eq!(begun(""), "");
        for (text, whole) in
            [("a", "a."), ("a.", "a."), ("“a.”", "“a.”"), ("“a”", "“a”."), ("(a)", "(a)."), ("", ".")]
        {
            assert_eq!(ended(text), whole);
        }
    }
}
