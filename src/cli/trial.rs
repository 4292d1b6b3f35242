//! `trial`: what was seen and measured with a stone over a received test panel.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::photo_args::PhotoArgs;
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{ProjectId, RequestId, StockId, SwatchId, TrialId};
use crate::model::kind::Kind;
use crate::model::trial::Trial;
use crate::ops::desk::Desk;
use crate::ops::record;
use crate::stone::look::trial_light::{self, Said, TrialLight};
use crate::stone::measure::{STATED_CCT_K, lux_pair};
use crate::stone::spectra::{self, Beside, PictureFile};
use crate::store::Changes;
use crate::units::Lux;
use crate::words;
use crate::words::Face;

/// What was seen and measured with a stone over a test panel.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum TrialVerb {
    /// Record a trial.
    ///
    /// Example: underlit trial record quay-bar warm --swatch honey --request first --cct 3000 --face diffused
    /// --seen "bands glow, body stays golden" --rating 5 --bare-lx 1200 --through-lx 130
    Record(Box<Args>),
    /// Put right what was written down wrong of a trial.
    ///
    /// Example: underlit trial change quay-bar warm --rating 4 --seen "bands glow, the edges stay dull"
    Change(super::trial_change::ChangeArgs),
    /// Remove a trial.
    ///
    /// Example: underlit trial remove quay-bar warm
    Remove(Named),
    /// Let a trial of an earlier job stand for a panel's own: the same stone, lot and thickness over the same light.
    /// Without a trial, those that fit are shown.
    ///
    /// Example: underlit trial cite quay-bar front
    Cite(super::earlier_trial::CiteArgs),
    /// Record that no test panel is made for a panel, by the client's word.
    ///
    /// Example: underlit trial waive quay-bar front --because "the client has the same stone in their other bar"
    Waive(super::earlier_trial::WaiveArgs),
}

/// A trial of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    pub(super) project: ProjectId,
    /// The trial's short name.
    pub(super) trial: TrialId,
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
    #[arg(long, value_name = "KELVIN", conflicts_with = "colour", required_unless_present = "colour", value_parser = super::value::kelvin::<u32>)]
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
    #[arg(long, value_name = "LUX", requires = "through_lx", value_parser = super::value::lux::<f64>)]
    bare_lx: Option<f64>,
    /// Lux on the stone over it.
    #[arg(long, value_name = "LUX", requires = "bare_lx", value_parser = super::value::lux::<f64>)]
    through_lx: Option<f64>,
    /// A photo.
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    #[command(flatten)]
    photos: PhotoArgs,
    /// Where the stone is in the photo, so that its colour can be compared with the prediction:
    /// left,top,width,height or corners "x,y x,y x,y", in pixels.
    #[arg(long, value_name = "AREA", requires = "photo", requires = "bare_at")]
    stone_at: Option<String>,
    /// Where the bare lit panel is in the photo.
    #[arg(long, value_name = "AREA", requires = "photo", requires = "stone_at")]
    bare_at: Option<String>,
    /// The measured spectrum of the test panel's light: wavelength in nm, relative power; or IES TM-27-14 XML.
    #[arg(long, value_name = "FILE", group = "panel-light-known")]
    panel_spectrum: Option<PathBuf>,
    /// The light of the test panel by name, such as LED-B3.
    #[arg(long, value_name = "LIGHT", group = "panel-light-known")]
    panel_light: Option<String>,
    /// CIE 1931 x and y of the bare test panel, as a colour meter read them.
    #[arg(long, value_name = "X,Y", value_delimiter = ',', num_args = 1..=2)]
    panel_xy: Vec<f64>,
    /// Colour rendering index Ra of the bare test panel, as a meter read it.
    #[arg(long, value_name = "RA")]
    panel_ra: Option<f64>,
    /// The shop's tape that lights the test panel: its own figures then stand for it.
    #[arg(long, value_name = "TAPE")]
    panel_tape: Option<StockId>,
    /// Who looked.
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    present: Vec<String>,
    /// The day, YYYY-MM-DD; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

pub(crate) fn run(verb: &TrialVerb, setting: &Setting<'_>) -> Outcome {
    let named = match verb {
        TrialVerb::Record(args) => &args.named,
        TrialVerb::Remove(named) => named,
        TrialVerb::Change(args) => return super::trial_change::run(args, setting),
        TrialVerb::Cite(args) => return super::earlier_trial::cite(args, setting),
        TrialVerb::Waive(args) => return super::earlier_trial::waive(args, setting),
    };
    let desk = setting.desk()?;
    let project = desk.reading.book.project(&named.project)?;
    let folder = format!("{project}/trials");
    let path = format!("{folder}/{}.json", named.trial);
    let args = match verb {
        TrialVerb::Record(args) => args,
        _ => {
            let trial: Trial = record::existing(&desk.reading, &path, Kind::Trial)?;
            let beside: Vec<String> = trial.attachments().map(|a| format!("{folder}/{}", a.file)).collect();
            let message = format!("{}: removes trial {}\n", named.project, named.trial);
            record::remove(&desk, &path, Kind::Trial, &beside, &message)?;
            setting.done(format!("removed trial {}", named.trial));
            setting.wrote(&named.project, Kind::Trial, Some(named.trial.as_str()), &path);
            return Ok(Exit::Done);
        }
    };
    let snapshot = desk.reading.project(&named.project)?;
    let unknown = |kind: &str, name: &str, known: Vec<&str>, first: &str| {
        vec![
            Fault::usage("unknown-record", format!("there is no {kind} {name} in {}", named.project))
                .fix(words::instead_of(name, known, &format!("{first} {} …", named.project))),
        ]
    };
    if !snapshot.swatches.contains_key(&args.swatch) {
        return Err(unknown(
            "swatch",
            args.swatch.as_str(),
            snapshot.swatches.keys().map(SwatchId::as_str).collect(),
            "describe the stone first: underlit swatch add",
        ));
    }
    let Some(request) = snapshot.requests.get(&args.request) else {
        return Err(unknown(
            "request",
            args.request.as_str(),
            snapshot.requests.keys().map(RequestId::as_str).collect(),
            "ask for a test panel first: underlit request ask",
        ));
    };
    if request.received.is_none() {
        return Err(vec![
            Fault::usage("not-received", format!("test panel {} has not been received", args.request)).fix(
                format!(
                    "record its arrival first: underlit request received {} {}",
                    named.project, args.request
                ),
            ),
        ]);
    }
    if let Some((bare, through)) = args.bare_lx.zip(args.through_lx) {
        lux_pair(bare, through)?;
    }
    let mut changes = Changes::new();
    let light = panel_light(args, &desk, setting)?;
    let panel_spectrum = match &args.panel_spectrum {
        None => None,
        Some(file) => Some(record::attach(
            &folder,
            &format!("{}-panel", named.trial),
            file,
            args.photos.notes(),
            &mut changes,
        )?),
    };
    let photo = match &args.photo {
        None => None,
        Some(file) => {
            if let (Some(stone), Some(bare)) = (&args.stone_at, &args.bare_at) {
                judge_photo(file, stone, bare, light.as_ref(), setting)?;
            }
            Some(record::attach(&folder, named.trial.as_str(), file, args.photos.notes(), &mut changes)?)
        }
    };
    let trial = Trial {
        schema: "../../../schema/trial.schema.json".into(),
        id: named.trial.clone(),
        swatch: args.swatch.clone(),
        request: args.request.clone(),
        date: setting.around.happened(args.date)?,
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
        panel_spectrum,
        panel_light: args.panel_light.clone(),
        panel_xy: xy(args)?,
        panel_ra: args.panel_ra,
        panel_tape: args.panel_tape.clone(),
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
    setting.wrote(&named.project, Kind::Trial, Some(trial.id.as_str()), &path);
    Ok(Exit::Done)
}

/// The two numbers of a chromaticity.
fn xy(args: &Args) -> Result<Option<[f64; 2]>, Vec<Fault>> {
    match args.panel_xy.as_slice() {
        [] => Ok(None),
        [x, y] if *x > 0.0 && *y > 0.0 && x + y < 1.0 => Ok(Some([*x, *y])),
        other => Err(vec![
            Fault::usage(
                "panel-xy",
                format!(
                    "{} is not a chromaticity",
                    other.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
                ),
            )
            .fix("give x and y as the meter shows them, like --panel-xy 0.4345,0.4032"),
        ]),
    }
}

/// The light that the trial was made over, judged as it will be used, so that what cannot be is refused now.
fn panel_light(
    args: &Args,
    desk: &Desk<'_>,
    setting: &Setting<'_>,
) -> Result<Option<TrialLight>, Vec<Fault>> {
    let file = args.panel_spectrum.as_deref().map(record::read_users_file).transpose()?;
    let shown = args.panel_spectrum.as_ref().map(|f| f.display().to_string()).unwrap_or_default();
    let said = Said {
        spectrum: file.as_ref().map(|(bytes, _)| (bytes.as_slice(), shown.as_str())),
        named: args.panel_light.as_deref(),
        xy: xy(args)?,
        ra: args.panel_ra,
        tape: args.panel_tape.as_ref().map(StockId::as_str),
        cct_k: args.cct,
    };
    let plain = said.spectrum.or(said.named.map(|n| (&[][..], n))).is_none()
        && said.xy.is_none()
        && said.ra.is_none();
    let light = match trial_light::of(&said, &desk.reading.shop.lights) {
        // A white beyond the typical ones is no fault of the trial: it is only held against no prediction.
        Err(_) if plain && said.tape.is_none() => None,
        other => other?,
    };
    let own = light
        .as_ref()
        .filter(|l| matches!(l.by, "spectrum" | "named" | "figures"))
        .and_then(|l| l.light.cct_k());
    if let (Some(stated), Some(own)) = (args.cct, own)
        && stated.abs_diff(own) > STATED_CCT_K
    {
        setting
            .printer
            .remark(format!("note: the trial is said to be at {stated} K, but its light is {own} K"));
    }
    Ok(light)
}

/// Reads a trial's photo as it will be held against the prediction, so that a useless one is refused now.
fn judge_photo(
    file: &Path,
    stone: &str,
    bare: &str,
    light: Option<&TrialLight>,
    setting: &Setting<'_>,
) -> Result<(), Vec<Fault>> {
    let (bytes, _) = record::read_users_file(file)?;
    let Some(TrialLight { light, by, .. }) = light else {
        setting.printer.remark(
            "note: the colour is not compared with a prediction: that needs a white of known colour \
             temperature, or the light's spectrum",
        );
        return Ok(());
    };
    if *by == "typical" {
        setting.printer.remark(format!(
            "note: no measurement of the test panel's light is given; a {} is used instead (better: \
             --panel-spectrum, --panel-xy and --panel-ra, or --panel-tape)",
            light.name
        ));
    }
    let shown = file.display().to_string();
    let photo = spectra::photo(
        &PictureFile { bytes: &bytes, name: &shown },
        stone,
        bare,
        Beside::default(),
        &light.light,
    )?;
    for remark in &photo.measured.remarks {
        setting.printer.remark(format!("{shown}: {remark}"));
    }
    Ok(())
}
