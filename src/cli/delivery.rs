//! `delivery` and `accepted`: what left the shop and how it arrived, and how the finished work was taken over.

use std::path::PathBuf;

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::photo_args::PhotoArgs;
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{DeliveryId, PanelId, ProjectId};
use crate::model::handover::{Acceptance, AsBuilt, Consignment, Damage, Installation};
use crate::model::kind::Kind;
use crate::ops::outline::unknown_panel;
use crate::ops::{Desk, record};
use crate::store::Changes;
use crate::words;

/// What left the shop, and how it arrived.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum DeliveryVerb {
    /// Record that panels left the shop.
    ///
    /// Example: underlit delivery sent quay-bar first --panel front,side --by "pallet 4471"
    Sent(SentArgs),
    /// Record that a consignment was received, and what was damaged.
    ///
    /// Example: underlit delivery received quay-bar first --damage "front: lower left corner chipped" --photo corner.jpg
    Received(ReceivedArgs),
    /// Record how damage was settled.
    ///
    /// Example: underlit delivery settled quay-bar first --panel front --how "corner polished, the client has seen it"
    Settled(SettledArgs),
}

/// A consignment of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    project: ProjectId,
    /// The consignment's short name.
    consignment: DeliveryId,
}

#[derive(Debug, clap::Args)]
pub(crate) struct SentArgs {
    #[command(flatten)]
    named: Named,
    /// The panels in it.
    #[arg(long, value_name = "PANEL", value_delimiter = ',', required = true)]
    panel: Vec<PanelId>,
    /// What it travels by, with its number.
    #[arg(long, value_name = "TEXT")]
    by: Option<String>,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ReceivedArgs {
    #[command(flatten)]
    named: Named,
    /// What is damaged, as "PANEL: what".
    #[arg(long, value_name = "PANEL: TEXT")]
    damage: Vec<String>,
    /// A photo of each damage, in the same order.
    #[arg(long, value_name = "FILE", requires = "damage")]
    photo: Vec<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct SettledArgs {
    #[command(flatten)]
    named: Named,
    /// The panel.
    #[arg(long, value_name = "PANEL")]
    panel: PanelId,
    /// How it was settled.
    #[arg(long, value_name = "TEXT")]
    how: String,
}

pub(crate) fn delivery(verb: &DeliveryVerb, setting: &Setting<'_>) -> Outcome {
    match verb {
        DeliveryVerb::Sent(args) => sent(args, setting),
        DeliveryVerb::Received(args) => received(args, setting),
        DeliveryVerb::Settled(args) => settled(args, setting),
    }
}

/// Changes what is recorded of the build, in one commit.
fn change(
    setting: &Setting<'_>,
    desk: &Desk<'_>,
    project: &ProjectId,
    with: Changes,
    what: String,
    edit: impl FnOnce(&mut AsBuilt) -> crate::fault::Outcome<()>,
) -> Outcome {
    let path = format!("{}/as-built.json", desk.reading.book.project(project)?);
    if desk.reading.project(project)?.as_built.is_none() {
        return Err(vec![
            Fault::usage("not-built", format!("no panel of {project} is recorded as built"))
                .fix(format!("record it as it left the bench: underlit built {project} PANEL …")),
        ]);
    }
    let message = format!("{project}: {what}\n");
    record::change(desk, &path, Kind::AsBuilt, with, |_: &AsBuilt| message, edit)?;
    setting.done(what);
    setting.wrote(project, Kind::AsBuilt, None, &path);
    Ok(Exit::Done)
}

fn find<'a>(built: &'a mut AsBuilt, id: &DeliveryId) -> crate::fault::Outcome<&'a mut Consignment> {
    let known: Vec<String> = built.consignments.iter().map(|c| c.id.to_string()).collect();
    built.consignments.iter_mut().find(|c| c.id == *id).ok_or_else(|| {
        let none = "record it as sent first: underlit delivery sent …";
        let fix = words::instead_of(id.as_str(), known.iter().map(String::as_str), none);
        Box::new(Fault::usage("unknown-record", format!("there is no consignment {id}")).fix(fix))
    })
}

fn sent(args: &SentArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let Named { project, consignment } = &args.named;
    let snapshot = desk.reading.project(project)?;
    if let Some(unknown) = args.panel.iter().find(|id| !snapshot.panels.contains_key(*id)) {
        return Err(vec![unknown_panel(&snapshot, unknown)]);
    }
    let built = |id: &PanelId| snapshot.as_built.iter().flat_map(|b| &b.panels).any(|p| p.id == *id);
    if let Some(unbuilt) = args.panel.iter().find(|id| !built(id)) {
        return Err(vec![
            Fault::usage("not-built", format!("panel {unbuilt} is not recorded as built"))
                .fix(format!("record it as it left the bench: underlit built {project} {unbuilt} …")),
        ]);
    }
    let day = setting.around.happened(args.date)?;
    let panels: Vec<&str> = args.panel.iter().map(PanelId::as_str).collect();
    let what = format!("{consignment} left the shop on {day} with {}", panels.join(", "));
    change(setting, &desk, project, Changes::new(), what, |built| {
        if built.consignments.iter().any(|c| c.id == *consignment) {
            let fault =
                Fault::usage("already-there", format!("there is a consignment {consignment} already"));
            return Err(Box::new(fault.fix("choose another name")));
        }
        built.consignments.push(Consignment {
            id: consignment.clone(),
            panels: args.panel.clone(),
            sent: day,
            by: args.by.clone(),
            received: None,
            damage: Vec::new(),
        });
        Ok(())
    })
}

fn received(args: &ReceivedArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let Named { project, consignment } = &args.named;
    let folder = format!("{}/handover", desk.reading.book.project(project)?);
    let day = setting.around.happened(args.date)?;
    if args.photo.len() > args.damage.len() {
        let what = format!("{} photos of {} damages", args.photo.len(), args.damage.len());
        return Err(vec![
            Fault::usage("too-many-photos", what).fix("give one photo for each --damage at the most"),
        ]);
    }
    let mut with = Changes::new();
    let mut damage = Vec::new();
    for (at, said) in args.damage.iter().enumerate() {
        let told =
            said.split_once(':').and_then(|(panel, what)| Some((panel.trim().parse().ok()?, what.trim())));
        let Some((panel, what)) = told.filter(|(_, what): &(PanelId, &str)| !what.is_empty()) else {
            let fault =
                Fault::usage("damage", format!("“{said}” does not say which panel is damaged, and how"));
            return Err(vec![
                fault.fix("write the panel, a colon and what is damaged: --damage \"front: corner chipped\""),
            ]);
        };
        let photo = args.photo.get(at).map(|file| {
            let name = format!("{consignment}-damage-{}", at + 1);
            record::attach(&folder, &name, file, args.photos.notes(), &mut with)
        });
        damage.push(Damage { panel, what: what.to_owned(), photo: photo.transpose()?, settled: None });
    }
    let what = match damage.len() {
        0 => format!("{consignment} was received whole on {day}"),
        many => format!("{consignment} was received on {day}: {}", words::counted(many, "damage", "damages")),
    };
    change(setting, &desk, project, with, what, |built| {
        let found = find(built, consignment)?;
        if day < found.sent {
            let fault =
                Fault::usage("date-order", format!("{day} is before {}, when it was sent", found.sent));
            return Err(Box::new(fault.fix("give the right day with --date YYYY-MM-DD")));
        }
        if let Some(other) = damage.iter().find(|d| !found.panels.contains(&d.panel)) {
            let fault = Fault::usage("damage", format!("panel {} is not in {consignment}", other.panel));
            let panels: Vec<&str> = found.panels.iter().map(PanelId::as_str).collect();
            return Err(Box::new(fault.fix(format!("in it are {}", panels.join(", ")))));
        }
        found.received = Some(day);
        found.damage = damage;
        Ok(())
    })
}

fn settled(args: &SettledArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let Named { project, consignment } = &args.named;
    let what = format!("the damage to panel {} in {consignment} is settled: {}", args.panel, args.how);
    change(setting, &desk, project, Changes::new(), what, |built| {
        let found = find(built, consignment)?;
        let damage = found.damage.iter_mut().filter(|d| d.panel == args.panel).collect::<Vec<_>>();
        if damage.is_empty() {
            let what = format!("no damage to panel {} is recorded in {consignment}", args.panel);
            let fault = Fault::usage("unknown-record", what);
            return Err(Box::new(fault.fix(format!("see what is: underlit show {project} as-built"))));
        }
        damage.into_iter().for_each(|d| d.settled = Some(args.how.clone()));
        Ok(())
    })
}

/// Record how the finished work was taken over: lit, dimmed, looked at for flicker, and what is still to be done.
///
/// The client signs what is recorded: `underlit sign PROJECT acknowledgement --topic accepted`. A list that changes is signed
/// again.
///
/// Example: underlit accepted quay-bar --photo lit.jpg --lowest-dim 5 --flicker-looked-for "by eye and with a camera at 5 %"
/// --remaining "seal the joint at the pillar"
#[derive(Debug, clap::Args)]
pub(crate) struct AcceptedArgs {
    /// The project.
    project: ProjectId,
    /// A photo of the work, lit.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// The lowest level that it was dimmed to, in percent of full light.
    #[arg(long, value_name = "PERCENT")]
    lowest_dim: Option<f64>,
    /// How flicker was looked for.
    #[arg(long, value_name = "TEXT")]
    flicker_looked_for: Option<String>,
    /// The flicker that was seen, where some was.
    #[arg(long, value_name = "TEXT")]
    flicker_seen: Option<String>,
    /// What is still to be done; once for each. Given again, the list is another.
    #[arg(long, value_name = "TEXT")]
    remaining: Vec<String>,
    /// Nothing is left to be done.
    #[arg(long, conflicts_with = "remaining")]
    nothing_remains: bool,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

pub(crate) fn accepted(args: &AcceptedArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let project = &args.project;
    let folder = desk.reading.book.project(project)?;
    let path = format!("{folder}/installation.json");
    let Some(installation) = desk.reading.project(project)?.installation else {
        return Err(vec![
            Fault::usage("not-installed", format!("the installation of {project} is not recorded"))
                .fix(format!("record it first: underlit installed {project} …")),
        ]);
    };
    let before = installation.acceptance;
    let mut with = Changes::new();
    let photo = match &args.photo {
        Some(file) => {
            let folder = format!("{folder}/handover");
            Some(record::attach(&folder, "accepted", file, args.photos.notes(), &mut with)?)
        }
        None => before.as_ref().map(|b| b.photo.clone()),
    };
    let looked =
        args.flicker_looked_for.clone().or_else(|| before.as_ref().map(|b| b.flicker_looked_for.clone()));
    let (Some(photo), Some(flicker_looked_for)) = (photo, looked) else {
        let what = "the taking over shows a photo of the lit work and says how flicker was looked for";
        let fix = "add --photo FILE and --flicker-looked-for …";
        return Err(vec![Fault::usage("missing-argument", what).fix(fix)]);
    };
    let remaining = match (args.nothing_remains, args.remaining.as_slice()) {
        (true, _) => Vec::new(),
        (false, []) => before.as_ref().map(|b| b.remaining.clone()).unwrap_or_default(),
        (false, said) => said.to_vec(),
    };
    let acceptance = Acceptance {
        date: setting.around.happened(args.date.or_else(|| before.as_ref().map(|b| b.date)))?,
        photo,
        lowest_dim_pct: args.lowest_dim.or_else(|| before.as_ref().and_then(|b| b.lowest_dim_pct)),
        flicker_looked_for,
        flicker_seen: args.flicker_seen.clone().or_else(|| before.and_then(|b| b.flicker_seen)),
        remaining,
    };
    let left = words::counted(acceptance.remaining.len(), "thing is", "things are");
    let what = format!("recorded how {project} was taken over; {left} still to be done");
    let message = format!("{project}: taken over on {}\n", acceptance.date);
    let edit = |record: &mut Installation| {
        record.acceptance = Some(acceptance);
        Ok(())
    };
    record::change(&desk, &path, Kind::Installation, with, |_: &Installation| message, edit)?;
    setting.done(what);
    setting
        .printer
        .line(format!("  the client signs it: underlit sign {project} acknowledgement --topic accepted"));
    setting.wrote(project, Kind::Installation, None, &path);
    Ok(Exit::Done)
}
