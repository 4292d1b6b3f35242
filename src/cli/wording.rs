//! How findings are worded for people, the same for every verb that shows them.

use super::printer::Printer;
use crate::gates::{Finding, State};

/// A finding: what is missing, why it is needed here, who can give it, and the command.
pub(crate) fn finding_lines(finding: &Finding, printer: &Printer) {
    let mark = match finding.state {
        State::Met => "met     ",
        State::Missing => "missing ",
        State::Stale => "stale   ",
        State::Rejected => "refused ",
    };
    printer.line(format!("  {mark} {} [{}]", finding.what, finding.requirement));
    for change in &finding.changes {
        printer.line(format!("             {}", change.in_words()));
    }
    printer.line(format!("           why: {}", finding.why));
    if !finding.roles.is_empty() {
        let roles: Vec<&str> = finding.roles.iter().map(|r| r.word()).collect();
        let who: Vec<&str> = finding.who.iter().map(|p| p.as_str()).collect();
        let names = if who.is_empty() { String::new() } else { format!(": {}", who.join(", ")) };
        printer.line(format!("           who: {}{names}", roles.join(" or ")));
    }
    if !finding.command.is_empty() {
        printer.line(format!("           how: {}", finding.command));
    }
}
