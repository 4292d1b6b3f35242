//! `packet`: one page for somebody to answer by.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::faces::packet;
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId};
use crate::packet::Language;
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::words::counted;

/// Make a packet: one page by which a client without a key reads, judges and answers what is asked of them.
///
/// It opens on any phone, fetches nothing and sends nothing. On a host with https, or on localhost, the client can also sign
/// with a passkey, which makes the answer their own sign-off. Each question has a code of its very version: whoever says it
/// back in a mail, a message or on the telephone has answered that version (`underlit intake`). The page is the same for
/// the same book; make and send it again when something changed.
///
/// Example: underlit packet quay-bar --into quay-bar.html
#[derive(Debug, clap::Args)]
pub(crate) struct PacketArgs {
    /// The project.
    project: ProjectId,
    /// Whom it is for; by default the client.
    #[arg(long = "for", value_name = "PERSON")]
    person: Option<PersonId>,
    /// Where to write it: a file that ends in .html, or a new or empty folder for a host of plain files. By default
    /// PROJECT-PERSON.html.
    #[arg(long, value_name = "FILE|DIR")]
    into: Option<PathBuf>,
    /// The language of the page: en or de.
    #[arg(long, value_name = "LANGUAGE", default_value = "en")]
    language: Language,
}

pub(crate) fn packet(args: &PacketArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    setting.printer.progress("making the packet …");
    let made = packet::packet(&reading, &args.project, args.person.as_ref(), args.language, &setting.around)?;
    let into =
        args.into.clone().unwrap_or_else(|| PathBuf::from(format!("{}-{}.html", args.project, made.person)));
    let files = if into.extension().is_some_and(|ending| ending == "html") {
        vec![(into.clone(), made.page.whole.as_bytes())]
    } else {
        refuse_occupied(&into)?;
        made.page.folder.iter().map(|(name, bytes)| (into.join(name), bytes.as_slice())).collect()
    };
    if !setting.around.dry_run {
        for (path, bytes) in &files {
            let io = |e: std::io::Error| vec![io_fault(&path.display().to_string(), "write", &e)];
            path.parent().map_or(Ok(()), std::fs::create_dir_all).map_err(io)?;
            write_whole(path, bytes).map_err(io)?;
        }
    }
    let name = reading.chain.newest().name_of(&made.person);
    let open = made.asked.iter().filter(|(_, open)| *open).count();
    setting.done(format!(
        "made the packet of {} for {name} in {}: {}",
        args.project,
        into.display(),
        counted(open, "question", "questions")
    ));
    for (asked, open) in &made.asked {
        let state = if *open { "asked" } else { "answered" };
        setting.printer.line(format!("  {}  {state:<8}  {}", asked.code, asked.subject));
    }
    made.remarks.iter().for_each(|remark| setting.printer.line(format!("  note: {remark}")));
    let asked: Vec<_> = made
        .asked
        .iter()
        .map(|(asked, open)| {
            json!({ "code": asked.code.to_string(), "subject": asked.subject, "role": asked.role, "open": open })
        })
        .collect();
    setting.printer.json(&json!({
        "project": args.project,
        "person": made.person,
        "files": files.iter().map(|(path, _)| path.display().to_string()).collect::<Vec<_>>(),
        "items": asked,
        "remarks": made.remarks,
    }));
    Ok(Exit::Done)
}

fn refuse_occupied(folder: &Path) -> Result<(), Vec<Fault>> {
    let occupied = match std::fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) => folder.symlink_metadata().is_ok(),
    };
    if !occupied {
        return Ok(());
    }
    let shown = folder.display();
    Err(vec![
        Fault::usage("folder-not-empty", format!("{shown} is no new or empty folder"))
            .fix("name another folder, or a file that ends in .html"),
    ])
}
