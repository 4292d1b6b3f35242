//! Copies of a job or of a panel, under new names: what was described is carried, and what was said, tried, drawn, built or
//! asked for is not.

use super::desk::Desk;
use super::record::put;
use crate::fault::Fault;
use crate::ids::{FileName, PanelId, PersonId, ProjectId};
use crate::model::attachment::Attachment;
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::project::Project;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::Swatch;
use crate::ops::outline::unknown_panel;
use crate::store::{Changes, read};
use crate::words::counted;
use jiff::civil::Date;

/// What was copied, and what was not.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Copied {
    /// The records that were written.
    pub files: Vec<String>,
    /// What was not carried, each in words.
    pub left: Vec<String>,
}

/// What is said of a copied job.
#[derive(Clone, Debug)]
pub(crate) struct NewJob<'a> {
    /// Its name.
    pub id: &'a ProjectId,
    /// Its title.
    pub title: &'a str,
    /// Its client; none for the same.
    pub client: Option<&'a PersonId>,
    /// The day of opening.
    pub opened: Date,
}

/// Copies a job: its people and site, its stones and its panels with their drawings.
///
/// # Errors
/// `already-there`, and everything that is wrong with the job.
pub(crate) fn job(desk: &Desk<'_>, from: &ProjectId, new: &NewJob<'_>) -> Result<Copied, Vec<Fault>> {
    let snapshot = desk.reading.project(from)?;
    let (folder, target) = (format!("projects/{from}"), format!("projects/{}", new.id));
    let committed = desk.repo.projects_at(desk.repo.head()?)?.contains(new.id.as_str());
    if committed || desk.reading.book.root().join(&target).symlink_metadata().is_ok() {
        return Err(vec![
            Fault::usage("already-there", format!("there is a project {} already", new.id))
                .in_file(target)
                .fix("choose another name"),
        ]);
    }
    let mut changes = Changes::new();
    let mut project = Project {
        id: new.id.clone(),
        title: new.title.to_owned(),
        opened: new.opened,
        install_date: None,
        ..snapshot.project.clone()
    };
    if let Some(client) = new.client {
        project.people.client = client.clone();
    }
    put(&format!("{target}/project.json"), Kind::Project, &project, &mut changes)?;
    for (id, swatch) in &snapshot.swatches {
        put_swatch(desk, &folder, &target, swatch, &mut changes)?;
        put(&format!("{target}/swatches/{id}.json"), Kind::Swatch, swatch, &mut changes)?;
    }
    for (id, panel) in &snapshot.panels {
        let outline = attached(desk, &format!("{folder}/panels"), &panel.outline)?;
        changes.put(format!("{target}/panels/{}", panel.outline.file), outline);
        let panel = Panel {
            signed_outlines: Vec::new(),
            no_test_panel: None,
            basis: None,
            slab: None,
            ..panel.clone()
        };
        put(&format!("{target}/panels/{id}.json"), Kind::Panel, &panel, &mut changes)?;
    }
    let message = format!("{}: copied from {from}: {}\n", new.id, project.title);
    desk.save(&changes, &message)?;
    let mut left = left_behind(&snapshot);
    if snapshot.project.install_date.is_some() {
        left.insert(0, "the install date".into());
    }
    Ok(Copied { files: changes.paths(), left })
}

/// Copies a panel under a new name, within its job or into another one of the book.
///
/// # Errors
/// `already-there`, `unknown-panel`, and everything that is wrong with the jobs.
pub(crate) fn panel(
    desk: &Desk<'_>,
    from: (&ProjectId, &PanelId),
    to: (&ProjectId, &PanelId),
    title: Option<&str>,
) -> Result<Copied, Vec<Fault>> {
    let snapshot = desk.reading.project(from.0)?;
    let there = if from.0 == to.0 { snapshot.clone() } else { desk.reading.project(to.0)? };
    let Some(old) = snapshot.panels.get(from.1) else { return Err(vec![unknown_panel(&snapshot, from.1)]) };
    if there.panels.contains_key(to.1) {
        return Err(vec![
            Fault::usage("already-there", format!("there is a panel {} already", to.1))
                .fix("choose another name"),
        ]);
    }
    let (folder, target) = (format!("projects/{}", from.0), format!("projects/{}", to.0));
    let mut changes = Changes::new();
    let mut left = Vec::new();
    if from.0 != to.0 {
        let swatch = snapshot.swatches.get(&old.swatch);
        match (swatch, there.swatches.get(&old.swatch)) {
            (Some(swatch), None) => {
                put_swatch(desk, &folder, &target, swatch, &mut changes)?;
                put(&format!("{target}/swatches/{}.json", swatch.id), Kind::Swatch, swatch, &mut changes)?;
            }
            (Some(one), Some(other)) if one.stone != other.stone || one.slab != other.slab => {
                left.push(format!(
                    "its stone: swatch {} of {} is another one, and is taken",
                    old.swatch, to.0
                ));
            }
            _ => {}
        }
    }
    let bytes = attached(desk, &format!("{folder}/panels"), &old.outline)?;
    let ending = old.outline.file.as_str().split_once('.').map_or("json", |(_, ending)| ending);
    let file: FileName = format!("{}.{ending}", to.1)
        .parse()
        .map_err(|e| vec![Fault::usage("attachment", format!("{e}")).fix("choose another name")])?;
    changes.put(format!("{target}/panels/{file}"), bytes);
    let panel = Panel {
        id: to.1.clone(),
        title: title.unwrap_or(&old.title).to_owned(),
        outline: Attachment { file, sha256: old.outline.sha256 },
        signed_outlines: Vec::new(),
        no_test_panel: None,
        slab: None,
        ..old.clone()
    };
    put(&format!("{target}/panels/{}.json", to.1), Kind::Panel, &panel, &mut changes)?;
    let message = format!("{}: panel {} copied from {} of {}\n", to.0, to.1, from.1, from.0);
    desk.save(&changes, &message)?;
    let said = snapshot.signoffs.iter().filter(|s| s.statement.about.panel.as_ref() == Some(from.1)).count();
    left.extend((said > 0).then(|| counted(said, "sign-off", "sign-offs")));
    left.extend(snapshot.renderings.contains_key(from.1).then(|| "its rendering".to_owned()));
    left.extend(old.slab.is_some().then(|| "its slab".to_owned()));
    left.extend(old.no_test_panel.is_some().then(|| "why it needs no test panel".to_owned()));
    Ok(Copied { files: changes.paths(), left })
}

/// The files beside a swatch, as they lie there.
fn put_swatch(
    desk: &Desk<'_>,
    folder: &str,
    target: &str,
    swatch: &Swatch,
    changes: &mut Changes,
) -> Result<(), Vec<Fault>> {
    for file in swatch.photo.iter().chain(swatch.measured.iter().flat_map(|m| m.attachments())) {
        let bytes = attached(desk, &format!("{folder}/swatches"), file)?;
        changes.put(format!("{target}/swatches/{}", file.file), bytes);
    }
    Ok(())
}

fn attached(desk: &Desk<'_>, folder: &str, file: &Attachment) -> Result<Vec<u8>, Vec<Fault>> {
    Ok(read::attached(
        &desk.reading.book,
        folder,
        file,
        "put the file back as the record names it: underlit check",
    )?)
}

/// What a job has that its copy has not, in words.
fn left_behind(job: &Snapshot) -> Vec<String> {
    let slabs = job.panels.values().filter(|p| p.slab.is_some()).count();
    let bases = job.panels.values().filter(|p| p.basis.is_some()).count();
    let waived = job.panels.values().filter(|p| p.no_test_panel.is_some()).count();
    let counts = [
        (job.requests.len(), "test-panel request", "test-panel requests"),
        (job.trials.len(), "trial", "trials"),
        (waived, "reason for no test panel", "reasons for no test panel"),
        (bases, "basis of an outline", "bases of outlines"),
        (slabs, "slab", "slabs"),
        (job.renderings.len(), "rendering", "renderings"),
        (job.signoffs.len(), "sign-off", "sign-offs"),
        (job.moves.len(), "step from stage to stage", "steps from stage to stage"),
        (job.notes.len(), "note", "notes"),
        (job.conflicts.len(), "open question", "open questions"),
        (usize::from(job.as_built.is_some()), "record of what was built", ""),
        (usize::from(job.installation.is_some()), "record of the installation", ""),
    ];
    let there = counts.into_iter().filter(|(count, ..)| *count > 0);
    there.map(|(count, one, many)| counted(count, one, many)).collect()
}
