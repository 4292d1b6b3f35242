//! The first page of help: every verb under what somebody wants to do, one line each, from the table of verbs.

use std::fmt::Write as _;

use clap::Command;

/// The page, in the words of clap's help templates. `groups` has the lines of the command's verbs in their order.
pub(super) fn page(command: &Command, groups: &[(&str, &[&str])]) -> String {
    let mut page = String::from("{about-with-newline}\n{usage-heading} {usage}\n");
    let width = command.get_subcommands().map(|verb| verb.get_name().len()).max().unwrap_or(0);
    let mut verbs = command.get_subcommands();
    for (group, lines) in groups {
        // Writing to a text does not fail.
        let _ = write!(page, "\n{group}:\n");
        for (line, verb) in lines.iter().zip(verbs.by_ref()) {
            let _ = writeln!(page, "  {:width$}  {line}", verb.get_name());
        }
    }
    page + "\n`underlit help VERB` says more, with an example.\n\nOptions:\n{options}{after-help}"
}
