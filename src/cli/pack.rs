//! `pack`: the build pack of a job, and its proof.

use std::path::PathBuf;

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::gates::facts::PACK_PARTS;
use crate::ids::{GroupId, ProjectId};
use crate::model::view::Change;
use crate::ops::pack::{self, FilesCompared, Place, Proof};

/// Make the build pack of a job: one folder with one PDF, its data, drawing sheets, cut files, bill and dates.
///
/// Until the job is released every page says so. The release seals the digest of the pack's data, so that
/// `--prove` can make them again and say whether they are the ones that were released, or what differs.
///
/// Example: underlit pack quay-bar --into quay-bar-pack
#[derive(Debug, clap::Args)]
pub(crate) struct PackArgs {
    /// The project.
    project: ProjectId,
    /// The release group, for a job that is released group by group; by default the only one.
    #[arg(long, value_name = "GROUP")]
    group: Option<GroupId>,
    /// The folder to make it in: a new or empty one, or that of an earlier pack of this job, which is replaced.
    #[arg(long, value_name = "DIR", required_unless_present = "prove")]
    into: Option<PathBuf>,
    /// Make the data again and hold them against what the release sealed. Writes nothing.
    #[arg(long, conflicts_with = "into")]
    prove: bool,
    /// With --prove: the folder of a pack that was handed in, or its pack.json. Its data are compared with what the release
    /// sealed, and each of its files with the pack made again, byte for byte.
    #[arg(long, value_name = "FILE", requires = "prove")]
    against: Option<PathBuf>,
}

pub(crate) fn pack(args: &PackArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    let Some(folder) = &args.into else {
        let against = args.against.as_deref();
        let proof = pack::prove(&reading, &args.project, args.group.as_ref(), &setting.around, against)?;
        show(&proof, setting);
        setting.printer.json(&proof);
        return Ok(if proof.proven { Exit::Done } else { Exit::Blocked });
    };
    let place = Place::find(folder, &args.project)?;
    setting.printer.progress("drawing the pack …");
    let made = pack::pack(&reading, &args.project, args.group.as_ref(), &setting.around)?;
    if !setting.around.dry_run {
        place.write(&made.files)?;
    }
    let state = if made.released { "released" } else { "NOT RELEASED: every page says so" };
    setting.done(format!("made the pack of {} in {}, {state}", args.project, folder.display()));
    setting.printer.line(format!("  data SHA-256 {}", made.sha256));
    setting.printer.line(format!("  {} files, first pack.pdf", made.files.len()));
    made.left_out.iter().for_each(|why| setting.printer.line(format!("  left out: {why}")));
    setting.printer.json(&json!({
        "project": args.project,
        "folder": folder,
        "released": made.released,
        "sha256": made.sha256.hex(),
        "files": made.files.iter().map(|(path, _)| path).collect::<Vec<_>>(),
        "left_out": made.left_out,
        "sync_refused": reading.refused,
    }));
    Ok(Exit::Done)
}

fn show(proof: &Proof, setting: &Setting<'_>) {
    let printer = setting.printer;
    let release = proof.release.as_ref().map(|by| format!("{} ({}), {}", by.who, by.role, by.at));
    match (release, &proof.sealed_sha256) {
        (None, _) => printer.line(format!("{} is not released: nothing is sealed yet", proof.project)),
        (Some(who), None) => {
            printer.line(format!("the release by {who} sealed no digest of a pack; release it again"));
        }
        (Some(who), Some(sealed)) => {
            printer.line(format!("released by {who}"));
            printer.line(format!("sealed  {sealed}"));
        }
    }
    printer.line(format!("now     {}", proof.now_sha256));
    if proof.sealed_sha256.as_ref() == Some(&proof.now_sha256) {
        printer.line("the pack's data, made again, are the ones that the release sealed");
        if !proof.released {
            printer.line(format!(
                "but the job may not be built as it is now: underlit status {}",
                proof.project
            ));
        }
    } else if proof.sealed_sha256.is_some() {
        printer.line("the pack's data are NOT the ones that the release sealed:");
    }
    let is_part = |change: &&Change| change.fact.starts_with(PACK_PARTS);
    proof
        .changes
        .iter()
        .filter(|change| !is_part(change))
        .for_each(|change| printer.line(format!("  {}", change.in_words())));
    if !proof.parts.is_empty() {
        printer.line(format!("parts of the data that changed: {}", proof.parts.join(", ")));
    }
    for list in &proof.lists {
        printer.line(format!(
            "{} is not what it was when the job was released, under roster version {}",
            list.file, list.roster_then
        ));
    }
    if !proof.lists.is_empty() && proof.sealed_sha256.as_ref() != Some(&proof.now_sha256) {
        printer.line("  what was in it then stands in the history: git log -p -- FILE");
    }
    if let Some(pack) = &proof.pack {
        printer.line(format!("handed in {}", pack.sha256));
        if !pack.states_its_own {
            printer
                .line("the pack that was handed in states another digest than its data have: it was changed");
        }
        printer.line(match (pack.is_sealed, pack.changes.is_empty()) {
            (true, _) => "the pack that was handed in has the data that the release sealed",
            (false, true) => "the pack that was handed in has the book's data, which no release sealed",
            (false, false) => {
                "the pack that was handed in has other data than the book (in the pack, now in the book):"
            }
        });
        pack.changes.iter().for_each(|change| printer.line(format!("  {}", change.in_words())));
        match &pack.files {
            None => {
                printer.line("only its data were compared: name the folder of the pack to compare every file")
            }
            Some(files) if files.is_same() => {
                printer
                    .line("every file of the pack that was handed in is the same as in the pack made again");
            }
            Some(files) => show_files(files, proof, setting),
        }
    }
}

/// The files of a handed-in pack that are not those of the pack made again.
fn show_files(files: &FilesCompared, proof: &Proof, setting: &Setting<'_>) {
    let printer = setting.printer;
    printer.line("the files of the pack that was handed in are NOT those of the pack made again:");
    for (what, paths) in
        [("differs", &files.different), ("missing", &files.missing), ("not of the pack", &files.extra)]
    {
        paths.iter().for_each(|path| printer.line(format!("  {what}  {path}")));
    }
    printer.line(format!(
        "Fix: do not build from it. Make the pack again: underlit pack {} --into DIR. A pack made earlier differs too where \
         stage, names, dates or photos changed since, or another version of underlit made it.",
        proof.project
    ));
}
