//! `trial`: what was seen and measured with a stone over a received test panel.

use std::path::{Path, PathBuf};

use jiff::civil::Date;
use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::model::id::{ProjectId, RequestId, SwatchId, TrialId};
use crate::model::kind::Kind;
use crate::model::trial::Trial;
use crate::ops::record;
use crate::ops::spectra::{self, PictureFile};
use crate::store::Changes;
use crate::units::Lux;
use crate::words::Face;

/// What was seen and measured with a stone over a test panel.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum TrialVerb {
    /// Record a trial.
    ///
    /// Example: underlit trial record quay-bar warm --swatch honey --request first --cct 3000 --face diffused
    /// --seen "bands glow, body stays golden" --rating 5 --bare-lx 1200 --through-lx 130
    Record(Box<Args>),
    /// Take a trial out.
    ///
    /// Example: underlit trial remove quay-bar warm
    Remove(Named),
}

/// A trial of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    project: ProjectId,
    /// The trial's short name.
    trial: TrialId,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    named: Named,
    /// The stone.
    #[arg(long, value_name = "SWATCH")]
    swatch: SwatchId,
    /// The request whose test panel it was tried over.
    #[arg(long, value_name = "REQUEST")]
    request: RequestId,
    /// The colour temperature of the light, in kelvin.
    #[arg(long, value_name = "KELVIN", conflicts_with = "colour", required_unless_present = "colour")]
    cct: Option<u32>,
    /// The coloured light that was tried, in words, where it was no white.
    #[arg(long, value_name = "TEXT")]
    colour: Option<String>,
    /// The face of the test panel.
    #[arg(long)]
    face: Face,
    /// What was seen, in words.
    #[arg(long, value_name = "TEXT")]
    seen: String,
    /// How well it pleased: 1 not at all, 5 entirely.
    #[arg(long, value_name = "1..5")]
    rating: u32,
    /// Lux on the bare test panel.
    #[arg(long, value_name = "LUX", requires = "through_lx")]
    bare_lx: Option<f64>,
    /// Lux on the stone over it.
    #[arg(long, value_name = "LUX", requires = "bare_lx")]
    through_lx: Option<f64>,
    /// A photo.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    /// Where the stone is in the photo, so that its colour can be held against the prediction:
    /// left,top,width,height or corners "x,y x,y x,y", in pixels.
    #[arg(long, value_name = "AREA", requires = "photo", requires = "bare_at")]
    stone_at: Option<String>,
    /// Where the bare lit panel is in the photo.
    #[arg(long, value_name = "AREA", requires = "photo", requires = "stone_at")]
    bare_at: Option<String>,
    /// Who looked.
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    present: Vec<String>,
    /// The day, YYYY-MM-DD; by default today.
    #[arg(long, value_name = "DATE")]
    date: Option<Date>,
}

pub(crate) fn run(verb: &TrialVerb, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let named = match verb {
        TrialVerb::Record(args) => &args.named,
        TrialVerb::Remove(named) => named,
    };
    let project = desk.reading.book.project(&named.project)?;
    let folder = format!("{project}/trials");
    let path = format!("{folder}/{}.json", named.trial);
    let args = match verb {
        TrialVerb::Record(args) => args,
        TrialVerb::Remove(named) => {
            let trial: Trial = record::existing(&desk, &path, Kind::Trial)?;
            let beside: Vec<String> = trial.photo.iter().map(|a| format!("{folder}/{}", a.file)).collect();
            let message = format!("{}: takes out trial {}\n", named.project, named.trial);
            record::remove(&desk, &path, Kind::Trial, &beside, &message)?;
            setting.done(format!("took out trial {}", named.trial));
            return Ok(Exit::Done);
        }
    };
    let snapshot = desk.reading.project(&named.project)?;
    let unknown = |kind: &str, name: &str, known: Vec<&str>| {
        vec![
            Fault::usage("unknown-record", format!("there is no {kind} {name} in {}", named.project))
                .mend(format!("there are: {}", known.join(", "))),
        ]
    };
    if !snapshot.swatches.contains_key(&args.swatch) {
        return Err(unknown(
            "swatch",
            args.swatch.as_str(),
            snapshot.swatches.keys().map(SwatchId::as_str).collect(),
        ));
    }
    let Some(request) = snapshot.requests.get(&args.request) else {
        return Err(unknown(
            "request",
            args.request.as_str(),
            snapshot.requests.keys().map(RequestId::as_str).collect(),
        ));
    };
    if request.received.is_none() {
        return Err(vec![
            Fault::usage("not-received", format!("test panel {} has not been received", args.request)).mend(
                format!(
                    "record its arrival first: underlit request received {} {}",
                    named.project, args.request
                ),
            ),
        ]);
    }
    let mut changes = Changes::new();
    let photo = match &args.photo {
        None => None,
        Some(file) => {
            if let (Some(stone), Some(bare)) = (&args.stone_at, &args.bare_at) {
                judge_photo(file, stone, bare, args.cct, setting)?;
            }
            Some(record::attach(&folder, named.trial.as_str(), file, &mut changes)?)
        }
    };
    let trial = Trial {
        schema: "../../../schema/trial.schema.json".into(),
        id: named.trial.clone(),
        swatch: args.swatch.clone(),
        request: args.request.clone(),
        date: args.date.unwrap_or_else(|| setting.around.today()),
        cct_k: args.cct,
        colour: args.colour.clone(),
        face: args.face,
        seen: args.seen.clone(),
        rating: args.rating,
        bare_lx: args.bare_lx.map(Lux),
        through_lx: args.through_lx.map(Lux),
        photo,
        photo_stone: args.stone_at.clone(),
        photo_bare: args.bare_at.clone(),
        present: args.present.clone(),
    };
    let light = trial.cct_k.map_or_else(|| trial.colour.clone().unwrap_or_default(), |k| format!("{k} K"));
    let message = format!(
        "{}: tries {} at {light}, {} face: rated {} of 5\n\n{}\n",
        named.project, trial.swatch, trial.face, trial.rating, trial.seen
    );
    record::add(&desk, &path, Kind::Trial, &trial, changes, &message)?;
    setting.done(format!("recorded trial {}", trial.id));
    if !request.ccts_k.is_empty() && trial.cct_k.is_some_and(|k| !request.ccts_k.contains(&k)) {
        setting.printer.remark(format!("note: test panel {} was asked for without {light}", args.request));
    }
    setting.printer.json(&json!({ "id": trial.id, "file": path }));
    Ok(Exit::Done)
}

/// Reads a trial's photo as it will be held against the prediction, so that a useless one is refused now.
fn judge_photo(
    file: &Path,
    stone: &str,
    bare: &str,
    cct: Option<u32>,
    setting: &Setting<'_>,
) -> Result<(), Vec<Fault>> {
    let (bytes, _) = record::read_users_file(file)?;
    let Some(cct) = cct else {
        setting.printer.remark(
            "note: the colour is held against no prediction: that takes a white light of known colour temperature",
        );
        return Ok(());
    };
    let light = spectra::white(cct)?;
    let shown = file.display().to_string();
    let photo =
        spectra::photo(&PictureFile { bytes: &bytes, name: &shown }, stone, bare, None, &light.light)?;
    for remark in &photo.measured.remarks {
        setting.printer.remark(format!("{shown}: {remark}"));
    }
    Ok(())
}
