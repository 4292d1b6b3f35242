//! How findings are worded for people, the same for every verb that shows them.

use super::printer::Printer;
use crate::gates::{Finding, State};
use crate::light::look::decimals;
use crate::units::trimmed;

/// A finding: what is missing, why it is needed here, who can give it, and the command.
pub(crate) fn finding_lines(finding: &Finding, printer: &Printer) {
    let mark = match finding.state {
        State::Met => "met     ",
        State::Missing => "missing ",
        State::Stale => "stale   ",
        State::Rejected => "refused ",
    };
    printer.line(format!("  {mark} {} [{}]", finding.what, finding.requirement));
    // The digests of the pack tell nothing where the figures in it stand beside them.
    let figures = finding.changes.iter().any(|c| !c.is_of_pack());
    for change in finding.changes.iter().filter(|c| !figures || !c.is_of_pack()) {
        printer.line(format!("             {}", change.in_words()));
    }
    printer.line(format!("           why: {}", finding.why));
    if !finding.roles.is_empty() {
        let roles: Vec<&str> = finding.roles.iter().map(|r| r.word()).collect();
        let who: Vec<&str> = finding.who.iter().map(|p| p.as_str()).collect();
        let names = if who.is_empty() {
            " (nobody on the roster yet: underlit roster add)".to_owned()
        } else {
            format!(": {}", who.join(", "))
        };
        printer.line(format!("           who: {}{names}", roles.join(" or ")));
    }
    if !finding.command.is_empty() {
        printer.line(format!("           how: {}", finding.command));
    }
}

/// A line broken at spaces, its own indentation kept and the further lines indented by `hanging`.
pub(crate) fn wrapped(text: &str, columns: usize, hanging: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for part in text.split_inclusive(' ') {
        let wide = part.trim_end_matches(' ').chars().count();
        if length + wide > columns && !line.trim().is_empty() {
            lines.push(line.trim_end().to_owned());
            line = hanging.to_owned();
            length = hanging.chars().count();
        }
        line.push_str(part);
        length += part.chars().count();
    }
    lines.push(line.trim_end().to_owned());
    lines
}

/// A range with no more decimals than it bears, at most `most`: `5.1–7`, or one figure where both ends read the same.
pub(crate) fn range(low: f64, high: f64, most: usize) -> String {
    let places = decimals(low, high, most);
    let [low, high] = [low, high].map(|end| trimmed(end, places));
    if low == high { low } else { format!("{low}–{high}") }
}
