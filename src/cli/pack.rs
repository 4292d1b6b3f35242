//! `pack`: the build pack of a job, and its proof.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::facts::PACK_PARTS;
use crate::model::id::ProjectId;
use crate::model::view::Change;
use crate::ops::pack::{self, Proof};
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;

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
    /// The folder to make it in: a new or empty one, or that of an earlier pack of this job, which is replaced.
    #[arg(long, value_name = "DIR", required_unless_present = "prove")]
    into: Option<PathBuf>,
    /// Make the data again and hold them against what the release sealed. Writes nothing.
    #[arg(long, conflicts_with = "into")]
    prove: bool,
    /// With --prove: the pack.json of a pack that was handed in, to be held against the release as well.
    #[arg(long, value_name = "FILE", requires = "prove")]
    against: Option<PathBuf>,
}

pub(crate) fn pack(args: &PackArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    let Some(folder) = &args.into else {
        let proof = pack::prove(&reading, &args.project, args.against.as_deref())?;
        show(&proof, setting);
        setting.printer.json(&proof);
        return Ok(if proof.proven { Exit::Done } else { Exit::Blocked });
    };
    let before = earlier_files(folder, &args.project).map_err(|f| vec![f])?;
    setting.printer.progress("drawing the pack …");
    let made = pack::pack(&reading, &args.project, &setting.around)?;
    if !setting.around.dry_run {
        write(folder, &before, &made.files).map_err(|f| vec![f])?;
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

/// The files of the pack that lies there; none in a new or empty folder.
fn earlier_files(folder: &Path, project: &ProjectId) -> Result<Vec<String>, Fault> {
    let name = folder.display().to_string();
    let entries = match fs::read_dir(folder) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(io_fault(&name, "read", &e)),
        Ok(entries) => entries,
    };
    if entries.count() == 0 {
        return Ok(Vec::new());
    }
    let foreign = || {
        Fault::usage("folder-not-empty", format!("{name} holds other things than a pack of {project}"))
            .mend("name a new or empty folder with --into")
    };
    let record = fs::read(folder.join("pack.json")).map_err(|_| foreign())?;
    let record: serde_json::Value = serde_json::from_slice(&record).map_err(|_| foreign())?;
    if record["data"]["project"].as_str() != Some(project.as_str()) {
        return Err(foreign());
    }
    let sums = fs::read_to_string(folder.join("SHA256SUMS")).map_err(|_| foreign())?;
    let inside = |path: &str| {
        let plain = |part: std::path::Component<'_>| matches!(part, std::path::Component::Normal(_));
        Path::new(path).components().all(plain)
    };
    let files = sums.lines().filter_map(|line| line.split_once("  ")).map(|(_, path)| path.to_owned());
    Ok(files.filter(|path| inside(path)).collect())
}

fn write(folder: &Path, before: &[String], files: &[(String, Vec<u8>)]) -> Result<(), Fault> {
    let io = |path: &Path, doing, e: &std::io::Error| io_fault(&path.display().to_string(), doing, e);
    for path in before.iter().filter(|path| !files.iter().any(|(new, _)| new == *path)) {
        let full = folder.join(path);
        match fs::remove_file(&full) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(io(&full, "remove", &e)),
            _ => {}
        }
    }
    for (path, bytes) in files {
        let full = folder.join(path);
        if let Some(parent) = full.parent() {
            fs::create_dir_all(parent).map_err(|e| io(parent, "make", &e))?;
        }
        write_whole(&full, bytes).map_err(|e| io(&full, "write", &e))?;
    }
    Ok(())
}

fn show(proof: &Proof, setting: &Setting<'_>) {
    let printer = setting.printer;
    match (&proof.release, &proof.sealed_sha256) {
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
    }
}
