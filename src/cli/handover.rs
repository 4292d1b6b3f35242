//! `built` and `installed`: what was really built, and how it was put in.

use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::json;

use super::failure::{Exit, Outcome};
use super::photo_args::PhotoArgs;
use super::setting::Setting;
use crate::fault::Fault;
use crate::gates::may_be_built;
use crate::ids::{PanelId, ProjectId};
use crate::job::as_built::{Comparison, compare};
use crate::job::bench::{self, Bench};
use crate::model::handover::{AsBuilt, BuiltPanel, Installation, ServiceCard};
use crate::model::kind::Kind;
use crate::model::snapshot::Snapshot;
use crate::ops::outline::unknown_panel;
use crate::ops::{Desk, record};
use crate::store::{Changes, read, write};
use crate::units::{Lux, Volts, Watts};

/// Record a panel as it left the bench. Of a panel that is recorded already, only what is given is recorded anew.
///
/// Where the shop's rules set limits (`bench` in rules.json), the gate says of each panel whether it is accepted or outside.
///
/// Example: underlit built quay-bar front --cct 3040 --nine-points 610,640,605,650,690,645,600,640,612
///
/// Example: underlit built quay-bar front --serial QB-001 --watts 33.8 --volts 24
#[derive(Debug, clap::Args)]
pub(crate) struct BuiltArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// Its serial number.
    #[arg(long, value_name = "TEXT")]
    serial: Option<String>,
    /// The power that it was measured to draw at full light.
    #[arg(long, value_name = "WATTS", value_parser = super::value::watts::<f64>)]
    watts: Option<f64>,
    /// The voltage at which that was measured.
    #[arg(long, value_name = "VOLTS", value_parser = super::value::volts::<f64>)]
    volts: Option<f64>,
    /// The colour temperature that was measured on the lit face, in kelvin.
    #[arg(long, value_name = "KELVIN", value_parser = super::value::kelvin::<u32>)]
    cct: Option<u32>,
    /// Lux on nine points of the lit face, three by three, from the upper left row by row.
    #[arg(long, value_name = "LUX,…", value_delimiter = ',', value_parser = super::value::lux::<f64>)]
    nine_points: Vec<f64>,
    /// A photo of it lit.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// What differs from the release, in words.
    #[arg(long, value_name = "TEXT")]
    differs: Option<String>,
    /// The day it passed its test; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

pub(crate) fn built(args: &BuiltArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let folder = desk.reading.book.project(&args.project)?;
    let snapshot = desk.reading.project(&args.project)?;
    if !snapshot.panels.contains_key(&args.panel) {
        return Err(vec![unknown_panel(&snapshot, &args.panel)]);
    }
    // Of several alike each is recorded by its serial number.
    let several = snapshot.panels.get(&args.panel).is_some_and(|panel| panel.count() > 1);
    let pieces: Vec<&BuiltPanel> =
        snapshot.as_built.iter().flat_map(|b| &b.panels).filter(|p| p.id == args.panel).collect();
    let at = pieces.iter().position(|p| !several || Some(&p.serial) == args.serial.as_ref());
    let before = at.map(|at| pieces[at].clone());
    let serial = args.serial.clone().or_else(|| before.as_ref().map(|b| b.serial.clone()));
    let watts = args.watts.map(Watts).or_else(|| before.as_ref().map(|b| b.measured_w));
    let volts = args.volts.map(Volts).or_else(|| before.as_ref().map(|b| b.measured_v));
    let (Some(serial), Some(measured_w), Some(measured_v)) = (&serial, watts, volts) else {
        let what = "a panel that left the bench has a serial number, watts and volts";
        return Err(vec![
            Fault::usage("missing-argument", what).fix("add --serial …, --watts … and --volts …"),
        ]);
    };
    if ![0, 9].contains(&args.nine_points.len()) {
        let what = format!("nine points are read, and {} are given", args.nine_points.len());
        return Err(vec![
            Fault::usage("nine-points", what)
                .fix("give nine figures with commas, three by three, from the upper left row by row"),
        ]);
    }
    let mut changes = Changes::new();
    let photo = match &args.photo {
        None => before.as_ref().and_then(|b| b.photo.clone()),
        Some(file) => Some(record::attach(
            &format!("{folder}/handover"),
            &match several {
                true => format!("{}-{}", args.panel, at.unwrap_or(pieces.len()) + 1),
                false => args.panel.to_string(),
            },
            file,
            args.photos.notes(),
            &mut changes,
        )?),
    };
    let day = setting.around.happened(args.date)?;
    let by = desk.me()?;
    let mut record = snapshot.as_built.clone().unwrap_or(AsBuilt {
        schema: "../../schema/as-built.schema.json".into(),
        date: day,
        by: by.clone(),
        panels: Vec::new(),
        differs: None,
        consignments: Vec::new(),
    });
    record.date = record.date.max(day);
    record.by = by;
    record.panels.retain(|p| p.id != args.panel || several && p.serial != *serial);
    record.panels.push(BuiltPanel {
        id: args.panel.clone(),
        serial: serial.clone(),
        measured_w,
        measured_v,
        measured_cct_k: args.cct.or_else(|| before.as_ref().and_then(|b| b.measured_cct_k)),
        nine_points_lx: match args.nine_points.as_slice() {
            [] => before.map(|b| b.nine_points_lx).unwrap_or_default(),
            read => read.iter().copied().map(Lux).collect(),
        },
        photo,
    });
    record.panels.sort_by(|a, b| (&a.id, &a.serial).cmp(&(&b.id, &b.serial)));
    if args.differs.is_some() {
        record.differs.clone_from(&args.differs);
    }
    let path = format!("{folder}/as-built.json");
    let bytes = write::to_bytes(&record)?;
    read::check_bytes(&path, Kind::AsBuilt, &bytes)?;
    changes.put(path.clone(), bytes);
    let message = format!("{}: panel {} left the bench as {serial}\n", args.project, args.panel);
    desk.save(&changes, &message)?;
    setting.done(format!("recorded panel {} as built", args.panel));
    if !may_be_built(&desk.reading.case(&snapshot), &args.panel) {
        setting.printer.line(format!(
            "  LOOK INTO THIS: {} is not released, so nobody has said that it may be built: underlit status {}",
            args.project, args.project
        ));
    }
    let (compared, bench) = compared(args, serial, &snapshot, record, &desk);
    if let Some(built) = &compared {
        setting.printer.line(format!("  {}", built.in_words()));
        if built.is_far_off() {
            setting.printer.line("  LOOK INTO THIS before it leaves the shop");
        }
    }
    if let Some(bench) = &bench {
        bench.in_words().iter().for_each(|line| setting.printer.line(format!("  {line}")));
    }
    setting.printer.json(&json!({
        "project": args.project,
        "kind": Kind::AsBuilt.name(),
        "panel": args.panel,
        "file": path,
        "planned_w": compared.as_ref().and_then(|b| b.planned_w),
        "deviation_pct": compared.as_ref().and_then(Comparison::deviation_pct),
        "far_off": compared.as_ref().is_some_and(Comparison::is_far_off),
        "bench": bench.map(|bench| json!({
            "within": bench.within,
            "outside": bench.outside,
            "unread": bench.unread.iter().map(|(what, _)| *what).collect::<Vec<_>>(),
        })),
    }));
    Ok(Exit::Done)
}

/// What was measured against what was worked out, and against the shop's limits.
fn compared(
    args: &BuiltArgs,
    serial: &str,
    snapshot: &Snapshot,
    record: AsBuilt,
    desk: &Desk<'_>,
) -> (Option<Comparison>, Option<Bench>) {
    let snapshot = Snapshot { as_built: Some(record), ..snapshot.clone() };
    let case = desk.reading.case(&snapshot);
    let compared = compare(&case, case.job())
        .into_iter()
        .find(|built| built.panel == args.panel && built.serial == serial);
    (compared, bench::judge(&case, &args.panel))
}

/// Record how the panels were installed, and the service card left with the owner.
///
/// The mains side is connected and tested by a licensed person; name them, and the code they worked to.
///
/// Example: underlit installed quay-bar --electrician "licence 4471" --code "local code, 2026 edition"
/// --driver-access "cupboard under the bar" --card-kept-at "meter cupboard" --card-access "slide the tray out"
/// --card-contact "the shop"
#[derive(Debug, clap::Args)]
pub(crate) struct InstalledArgs {
    /// The project.
    project: ProjectId,
    /// The licensed person who connected and tested the mains side.
    #[arg(long, value_name = "TEXT")]
    electrician: Option<String>,
    /// The electrical code and edition that it was tested to.
    #[arg(long, value_name = "TEXT")]
    code: Option<String>,
    /// Where the drivers sit and how to reach them.
    #[arg(long, value_name = "TEXT")]
    driver_access: Option<String>,
    /// Where the service card is kept.
    #[arg(long, value_name = "TEXT", requires = "card_access", requires = "card_contact")]
    card_kept_at: Option<String>,
    /// How the panel is reached without breaking the stone, or that it cannot be.
    #[arg(long, value_name = "TEXT", requires = "card_kept_at")]
    card_access: Option<String>,
    /// Whom to call.
    #[arg(long, value_name = "TEXT", requires = "card_kept_at")]
    card_contact: Option<String>,
    /// For how many months from the handover the shop makes good.
    #[arg(long, value_name = "MONTHS")]
    card_warranty_months: Option<u32>,
    /// Which spare parts of the same bin are kept, and where.
    #[arg(long, value_name = "TEXT")]
    card_spares: Option<String>,
    /// How stone and face are cleaned and what else is done now and then.
    #[arg(long, value_name = "TEXT")]
    card_upkeep: Option<String>,
    /// A photo.
    #[arg(long, value_name = "FILE")]
    photo: Vec<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
    /// Change what was recorded of the installation before; without it, only what is missing is added.
    #[arg(long)]
    correct: bool,
}

/// A recorded installation is not overwritten by the way: what it says already has to be the same.
fn not_another(args: &InstalledArgs, before: &Installation) -> Result<(), Vec<Fault>> {
    let card = before.service_card.as_ref();
    let said = [
        ("electrician", args.electrician.clone(), Some(before.electrician.clone())),
        ("code", args.code.clone(), Some(before.electrical_code.clone())),
        ("driver access", args.driver_access.clone(), Some(before.driver_access.clone())),
        ("date", args.date.map(|d| d.to_string()), Some(before.date.to_string())),
        ("card kept at", args.card_kept_at.clone(), card.map(|c| c.kept_at.clone())),
        ("card access", args.card_access.clone(), card.map(|c| c.access.clone())),
        ("card contact", args.card_contact.clone(), card.map(|c| c.contact.clone())),
        (
            "warranty in months",
            args.card_warranty_months.map(|m| m.to_string()),
            card.and_then(|c| Some(c.warranty_months?.to_string())),
        ),
        ("spares", args.card_spares.clone(), card.and_then(|c| c.spares.clone())),
        ("upkeep", args.card_upkeep.clone(), card.and_then(|c| c.upkeep.clone())),
    ];
    let other = said.into_iter().filter_map(|(what, now, then)| {
        let (now, then) = now.zip(then).filter(|(now, then)| now != then)?;
        Some(format!("{what}: recorded \"{then}\", now \"{now}\""))
    });
    let other: Vec<String> = other.collect();
    if other.is_empty() {
        return Ok(());
    }
    let when = format!("the installation of {} was recorded already by {}", before.date, before.by);
    Err(vec![
        Fault::usage("already-there", format!("{when}; {}", other.join("; ")))
            .fix("add --correct if the record is to be changed"),
    ])
}

/// The service card as it was, with what is said anew.
fn card(args: &InstalledArgs, before: Option<ServiceCard>) -> Result<Option<ServiceCard>, Vec<Fault>> {
    let named = match (&args.card_kept_at, &args.card_access, &args.card_contact) {
        (Some(kept_at), Some(access), Some(contact)) => {
            Some((kept_at.clone(), access.clone(), contact.clone()))
        }
        _ => before.as_ref().map(|b| (b.kept_at.clone(), b.access.clone(), b.contact.clone())),
    };
    let more =
        args.card_warranty_months.is_some() || args.card_spares.is_some() || args.card_upkeep.is_some();
    let Some((kept_at, access, contact)) = named else {
        let what = "a service card says where it is kept, how the panel is reached and whom to call";
        let fault = Fault::usage("missing-argument", what);
        let fault = fault.fix("add --card-kept-at …, --card-access … and --card-contact …");
        return if more { Err(vec![fault]) } else { Ok(None) };
    };
    let old = before.as_ref();
    Ok(Some(ServiceCard {
        kept_at,
        access,
        contact,
        warranty_months: args.card_warranty_months.or_else(|| old.and_then(|b| b.warranty_months)),
        spares: args.card_spares.clone().or_else(|| old.and_then(|b| b.spares.clone())),
        upkeep: args.card_upkeep.clone().or_else(|| old.and_then(|b| b.upkeep.clone())),
    }))
}

pub(crate) fn installed(args: &InstalledArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let folder = desk.reading.book.project(&args.project)?;
    let snapshot = desk.reading.project(&args.project)?;
    let before = snapshot.installation.clone();
    if let Some(before) = before.as_ref().filter(|_| !args.correct) {
        not_another(args, before)?;
    }
    let kept = |of: fn(&Installation) -> &String| before.as_ref().map(|b| of(b).clone());
    let electrician = args.electrician.clone().or(kept(|b| &b.electrician));
    let electrical_code = args.code.clone().or(kept(|b| &b.electrical_code));
    let driver_access = args.driver_access.clone().or(kept(|b| &b.driver_access));
    let named =
        [("--electrician", &electrician), ("--code", &electrical_code), ("--driver-access", &driver_access)];
    let open: Vec<String> =
        named.iter().filter(|(_, said)| said.is_none()).map(|(flag, _)| format!("{flag} …")).collect();
    let (Some(electrician), Some(electrical_code), Some(driver_access)) =
        (electrician, electrical_code, driver_access)
    else {
        let what = "an installation names its electrician, the code and the way to the drivers";
        return Err(vec![Fault::usage("missing-argument", what).fix(format!("add {}", open.join(" ")))]);
    };
    let mut changes = Changes::new();
    let mut photos = before.as_ref().map(|b| b.photos.clone()).unwrap_or_default();
    for file in &args.photo {
        let name = format!("installed-{}", photos.len() + 1);
        photos.push(record::attach(
            &format!("{folder}/handover"),
            &name,
            file,
            args.photos.notes(),
            &mut changes,
        )?);
    }
    let card = card(args, before.as_ref().and_then(|b| b.service_card.clone()))?;
    let record = Installation {
        schema: "../../schema/installation.schema.json".into(),
        date: setting.around.happened(args.date.or(before.as_ref().map(|b| b.date)))?,
        by: desk.me()?,
        electrician,
        electrical_code,
        driver_access,
        service_card: card,
        acceptance: before.and_then(|b| b.acceptance),
        photos,
    };
    let path = format!("{folder}/installation.json");
    let bytes = write::to_bytes(&record)?;
    read::check_bytes(&path, Kind::Installation, &bytes)?;
    changes.put(path.clone(), bytes);
    desk.save(&changes, &format!("{}: installed\n", args.project))?;
    setting.done(format!("recorded the installation of {}", args.project));
    setting.wrote(&args.project, Kind::Installation, None, &path);
    Ok(Exit::Done)
}
