//! `panel basis` and `panel slab`: what an outline rests on, and the very slab that will lie over a panel.

use std::path::PathBuf;

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::photo_args::PhotoArgs;
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId, TrialId};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::model::site_facts::{ActualSlab, BasisKind, OutlineBasis};
use crate::ops::{Desk, record};
use crate::store::Changes;
use crate::words;

/// What an outline was made from.
#[derive(Debug, clap::Args)]
pub(crate) struct BasisArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// What it was: drawing, template or survey.
    kind: BasisKind,
    /// Who drew, cut or measured it.
    #[arg(long, value_name = "TEXT")]
    by: String,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
    /// The client's file, by its name.
    #[arg(long, value_name = "TEXT")]
    file: Option<String>,
    /// The revision of that file.
    #[arg(long, value_name = "TEXT")]
    revision: Option<String>,
}

/// The very slab that will lie over a panel.
#[derive(Debug, clap::Args)]
pub(crate) struct SlabArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// Its lot or bundle, and its own number.
    #[arg(long, value_name = "TEXT")]
    lot: Option<String>,
    /// A photo of this slab, lit.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// The trial that was made on this very slab.
    #[arg(long, value_name = "TRIAL")]
    trial: Option<TrialId>,
    /// What is glued to its back, such as a mesh, or none.
    #[arg(long, value_name = "TEXT")]
    backing: Option<String>,
    /// Where it is filled or mended.
    #[arg(long, value_name = "TEXT")]
    fills: Option<String>,
    /// How the pieces of a split panel follow one another in the slab.
    #[arg(long, value_name = "TEXT")]
    book_match: Option<String>,
    /// Another slab is taken: nothing of the one before holds.
    #[arg(long, requires = "lot")]
    another: bool,
}

pub(crate) fn basis(args: &BasisArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let basis = OutlineBasis {
        kind: args.kind,
        by: args.by.clone(),
        date: setting.around.happened(args.date)?,
        file: args.file.clone(),
        revision: args.revision.clone(),
    };
    let what = format!("panel {} rests on a {} by {} of {}", args.panel, basis.kind, basis.by, basis.date);
    put(setting, &desk, (&args.project, &args.panel), Changes::new(), what, |panel| {
        panel.basis = Some(basis);
        Ok(())
    })
}

pub(crate) fn slab(args: &SlabArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let snapshot = desk.reading.project(&args.project)?;
    if let Some(trial) = args.trial.as_ref().filter(|trial| !snapshot.trials.contains_key(*trial)) {
        let known: Vec<&str> = snapshot.trials.keys().map(TrialId::as_str).collect();
        let fix = words::instead_of(trial.as_str(), known, "record it first: underlit trial record …");
        return Err(vec![Fault::usage("unknown-record", format!("there is no trial {trial}")).fix(fix)]);
    }
    let mut with = Changes::new();
    let folder = format!("{}/panels", desk.reading.book.project(&args.project)?);
    let photo = args.photo.as_ref().map(|file| {
        record::attach(&folder, &format!("{}-slab", args.panel), file, args.photos.notes(), &mut with)
    });
    let photo = photo.transpose()?;
    let what = format!("recorded the slab of panel {}", args.panel);
    put(setting, &desk, (&args.project, &args.panel), with, what, |panel| {
        let before = panel.slab.take().filter(|_| !args.another);
        let lot = args.lot.clone().or_else(|| before.as_ref().map(|b| b.lot.clone()));
        let Some(lot) = lot else {
            let fault = Fault::usage("missing-argument", "a slab is known by its lot");
            return Err(Box::new(fault.fix("add --lot …")));
        };
        let old = before.as_ref();
        let or = |said: &Option<String>, was: Option<String>| said.clone().or(was);
        panel.slab = Some(ActualSlab {
            lot,
            photo: photo.or_else(|| old.and_then(|b| b.photo.clone())),
            trial: args.trial.clone().or_else(|| old.and_then(|b| b.trial.clone())),
            backing: or(&args.backing, old.and_then(|b| b.backing.clone())),
            fills: or(&args.fills, old.and_then(|b| b.fills.clone())),
            book_match: or(&args.book_match, old.and_then(|b| b.book_match.clone())),
        });
        Ok(())
    })
}

fn put(
    setting: &Setting<'_>,
    desk: &Desk<'_>,
    (project, panel): (&ProjectId, &PanelId),
    with: Changes,
    what: String,
    edit: impl FnOnce(&mut Panel) -> crate::fault::Outcome<()>,
) -> Outcome {
    let path = format!("{}/panels/{panel}.json", desk.reading.book.project(project)?);
    let message = format!("{project}: {what}\n");
    record::change(desk, &path, Kind::Panel, with, |_: &Panel| message, edit)?;
    setting.done(what);
    setting.wrote(project, Kind::Panel, Some(panel.as_str()), &path);
    Ok(Exit::Done)
}
