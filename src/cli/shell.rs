//! `completions` and `man`: help for shells and manuals, made from the verbs themselves.

use std::path::PathBuf;

use clap_complete::Shell;
use clap_complete::env::Shells;
use serde_json::json;

use super::command::command;
use super::failure::{Exit, Outcome};
use super::guide::{TOPICS, man_page};
use super::setting::{Setting, write_into};
use crate::fault::Fault;
use crate::store::safe_path::io_fault;

/// Print the completions for a shell: bash, elvish, fish, powershell or zsh. They offer verbs, options, words of closed
/// lists, and the projects, people, panels, swatches, requests and trials of the book at hand.
///
/// Example: underlit completions bash > ~/.local/share/bash-completion/completions/underlit
#[derive(Debug, clap::Args)]
pub(crate) struct CompletionsArgs {
    /// The shell.
    shell: Shell,
}

pub(crate) fn completions(args: &CompletionsArgs, setting: &Setting<'_>) -> Outcome {
    let mut bytes = Vec::new();
    let name = args.shell.to_string();
    let shells = Shells::builtins();
    let written = shells
        .completer(&name)
        .map(|shell| shell.write_registration("COMPLETE", "underlit", "underlit", "underlit", &mut bytes));
    if !matches!(written, Some(Ok(()))) {
        return Err(vec![Fault::usage("shell", format!("there are no completions for {name}"))]);
    }
    let text = String::from_utf8_lossy(&bytes);
    if setting.printer.is_json() {
        setting.printer.json(&json!({ "completions": text }));
    } else {
        setting.printer.raw(text);
    }
    Ok(Exit::Done)
}

/// Write the manual pages: one for each verb, and one for each topic of the guide.
///
/// Example: underlit man --into ~/.local/share/man/man1
#[derive(Debug, clap::Args)]
pub(crate) struct ManArgs {
    /// The folder to write them into.
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

pub(crate) fn man(args: &ManArgs, setting: &Setting<'_>) -> Outcome {
    let io = |e: std::io::Error| vec![io_fault(&args.into.display().to_string(), "write", &e)];
    let mut command = command();
    command.build();
    let mut pages = Vec::new();
    collect(&command, "underlit", &mut pages).map_err(io)?;
    pages.extend(TOPICS.iter().map(|t| (format!("underlit-guide-{}.1", t.name), man_page(t))));
    write_into(&args.into, &pages, setting)?;
    setting.done(format!("wrote {} manual pages into {}", pages.len(), args.into.display()));
    Ok(Exit::Done)
}

fn collect(command: &clap::Command, name: &str, pages: &mut Vec<(String, String)>) -> std::io::Result<()> {
    let mut bytes = Vec::new();
    clap_mangen::Man::new(command.clone().name(name.to_owned())).render(&mut bytes)?;
    pages.push((format!("{name}.1"), String::from_utf8_lossy(&bytes).into_owned()));
    for sub in command.get_subcommands().filter(|s| s.get_name() != "help") {
        collect(sub, &format!("{name}-{}", sub.get_name()), pages)?;
    }
    Ok(())
}
