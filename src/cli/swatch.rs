//! `swatch`: pieces of stone and the slabs that they stand for.

use std::path::PathBuf;

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::measure::{MeasureArgs, measure};
use super::photo_args::PhotoArgs;
use super::pick::pick;
use super::setting::Setting;
use super::swatch_args::{Named, place};
use crate::fault::Fault;
use crate::light::practice;
use crate::model::kind::Kind;
use crate::model::swatch::{Material, Slab, Swatch};
use crate::ops::{Desk, record};
use crate::store::Changes;
use crate::units::{DisplayUnits, Millimetres};
use crate::words::{Texture, Tone};

/// Pieces of stone and the slabs that they stand for.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum SwatchVerb {
    /// Describe a new swatch.
    ///
    /// Example: underlit swatch add quay-bar honey --stone "Honey onyx" --material onyx --tone honey
    /// --texture banded --thickness 20mm --slab-thickness 20mm
    Add(Args),
    /// Change a swatch.
    ///
    /// Example: underlit swatch change quay-bar honey --slab-thickness 30mm --lot B-17
    Change(Args),
    Measure(Box<MeasureArgs>),
    /// Remove a swatch.
    ///
    /// Example: underlit swatch remove quay-bar honey
    Remove(Named),
}

#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    named: Named,
    /// What the stone is called.
    #[arg(long, value_name = "TEXT")]
    stone: Option<String>,
    /// onyx, alabaster, marble, quartzite, travertine, agate, quartz or other.
    #[arg(long)]
    material: Option<Material>,
    /// white, cream, honey, amber, brown, red, pink, green, blue, grey, black or mixed.
    #[arg(long)]
    tone: Option<Tone>,
    /// plain, cloudy, banded, veined or textured.
    #[arg(long)]
    texture: Option<Texture>,
    /// How thick the swatch is, with its unit: 20mm, 3/4in.
    #[arg(long, value_name = "LENGTH")]
    thickness: Option<Millimetres>,
    /// How thick the slab is, with its unit.
    #[arg(long, value_name = "LENGTH")]
    slab_thickness: Option<Millimetres>,
    /// Business days from ordering the slab to having it.
    #[arg(long, value_name = "DAYS")]
    slab_lead_days: Option<u32>,
    /// The lot or bundle of the slab.
    #[arg(long, value_name = "TEXT")]
    lot: Option<String>,
    /// The surface of the slab, such as polished or honed.
    #[arg(long, value_name = "TEXT")]
    finish: Option<String>,
    /// The density of the stone in kg/m³, where it is known.
    #[arg(long, value_name = "NUMBER", value_parser = super::value::density::<f64>)]
    density: Option<f64>,
    /// A photo.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// The day it came in, YYYY-MM-DD.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    received: Option<Date>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

pub(crate) fn run(verb: &SwatchVerb, setting: &Setting<'_>) -> Outcome {
    if let SwatchVerb::Measure(args) = verb
        && let Some(photo) = &args.pick
    {
        return pick(args, photo, setting);
    }
    let desk = setting.desk()?;
    match verb {
        SwatchVerb::Add(args) => add(args, &desk, setting),
        SwatchVerb::Change(args) => change(args, &desk, setting),
        SwatchVerb::Measure(args) => measure(args, &desk, setting),
        SwatchVerb::Remove(named) => {
            let (_, path) = place(named, &desk.reading)?;
            let message = format!("{}: removes swatch {}\n", named.project, named.swatch);
            let swatch: Swatch = record::existing(&desk.reading, &path, Kind::Swatch)?;
            let folder = path.rsplit_once('/').map_or("", |(f, _)| f);
            let files = swatch.photo.iter().chain(swatch.measured.iter().flat_map(|m| m.attachments()));
            let beside: Vec<String> = files.map(|a| format!("{folder}/{}", a.file)).collect();
            record::remove(&desk, &path, Kind::Swatch, &beside, &message)?;
            setting.done(format!("removed swatch {}", named.swatch));
            setting.wrote(&named.project, Kind::Swatch, Some(named.swatch.as_str()), &path);
            Ok(Exit::Done)
        }
    }
}

fn add(args: &Args, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(&args.named, &desk.reading)?;
    let (Some(stone), Some(material), Some(tone), Some(texture), Some(thickness), Some(slab)) =
        (&args.stone, args.material, args.tone, args.texture, args.thickness, args.slab_thickness)
    else {
        return Err(vec![Fault::usage(
            "missing-argument",
            "a new swatch needs stone, material, tone, texture and both thicknesses",
        )]);
    };
    let mut swatch = Swatch {
        schema: "../../../schema/swatch.schema.json".into(),
        id: args.named.swatch.clone(),
        stone: stone.clone(),
        material,
        tone,
        texture,
        thickness_mm: thickness,
        slab: Slab {
            thickness_mm: slab,
            lot: None,
            lead_business_days: None,
            finish: None,
            density_kg_m3: None,
        },
        measured: Vec::new(),
        photo: None,
        received: None,
        note: None,
    };
    let mut changes = Changes::new();
    apply(args, &mut swatch, &folder, &mut changes)?;
    let message = format!("{}: describes swatch {}: {}\n", args.named.project, swatch.id, swatch.stone);
    record::add(desk, &path, Kind::Swatch, &swatch, changes, &message)?;
    setting.done(format!("described {}", swatch.id));
    advise(&swatch, desk.reading.shop.book.units, setting);
    setting.wrote(&args.named.project, Kind::Swatch, Some(swatch.id.as_str()), &path);
    Ok(Exit::Done)
}

fn change(args: &Args, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let (folder, path) = place(&args.named, &desk.reading)?;
    let mut swatch: Swatch = record::existing(&desk.reading, &path, Kind::Swatch)?;
    let before = swatch.clone();
    let mut changes = Changes::new();
    apply(args, &mut swatch, &folder, &mut changes)?;
    let swatch = record::change(
        desk,
        &path,
        Kind::Swatch,
        changes,
        |s: &Swatch| format!("{}: changes swatch {}\n", args.named.project, s.id),
        |s| {
            *s = swatch;
            Ok(())
        },
    )?;
    setting.done(format!("changed {}", swatch.id));
    let advised = |s: &Swatch| (s.tone, s.texture, s.slab.thickness_mm);
    if advised(&swatch) != advised(&before) {
        advise(&swatch, desk.reading.shop.book.units, setting);
    }
    setting.wrote(&args.named.project, Kind::Swatch, Some(swatch.id.as_str()), &path);
    Ok(Exit::Done)
}

fn apply(args: &Args, swatch: &mut Swatch, folder: &str, changes: &mut Changes) -> Result<(), Vec<Fault>> {
    if let Some(stone) = &args.stone {
        swatch.stone.clone_from(stone);
    }
    swatch.material = args.material.unwrap_or(swatch.material);
    swatch.tone = args.tone.unwrap_or(swatch.tone);
    swatch.texture = args.texture.unwrap_or(swatch.texture);
    swatch.thickness_mm = args.thickness.unwrap_or(swatch.thickness_mm);
    swatch.slab.thickness_mm = args.slab_thickness.unwrap_or(swatch.slab.thickness_mm);
    for (given, place) in [
        (&args.lot, &mut swatch.slab.lot),
        (&args.finish, &mut swatch.slab.finish),
        (&args.note, &mut swatch.note),
    ] {
        if given.is_some() {
            place.clone_from(given);
        }
    }
    swatch.slab.lead_business_days = args.slab_lead_days.or(swatch.slab.lead_business_days);
    swatch.slab.density_kg_m3 = args.density.or(swatch.slab.density_kg_m3);
    swatch.received = args.received.or(swatch.received);
    if let Some(photo) = &args.photo {
        swatch.photo = Some(record::attach(folder, swatch.id.as_str(), photo, args.photos.notes(), changes)?);
    }
    Ok(())
}

/// What common practice says of this stone, beside the answer.
fn advise(swatch: &Swatch, units: DisplayUnits, setting: &Setting<'_>) {
    let cct = practice::cct(swatch.tone, swatch.texture);
    let face = practice::face(swatch.slab.thickness_mm, units);
    setting.printer.line(format!("  {} ({})", cct.sentence, cct.source));
    setting.printer.line(format!("  {} ({})", face.sentence, face.source));
}
