//! `trial change`: what was written down wrong of a trial, put right.

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use super::trial::Named;
use crate::fault::Fault;
use crate::model::kind::Kind;
use crate::model::trial::Trial;
use crate::ops::record;
use crate::stone::measure::lux_pair;
use crate::store::Changes;
use crate::units::Lux;
use crate::words::Face;

/// What is to be put right of a trial.
#[derive(Debug, clap::Args)]
pub(crate) struct ChangeArgs {
    #[command(flatten)]
    named: Named,
    /// The colour temperature of the light, in kelvin.
    #[arg(long, value_name = "KELVIN", conflicts_with = "colour", value_parser = super::value::kelvin::<u32>)]
    cct: Option<u32>,
    /// The coloured light that was tried, in words.
    #[arg(long, value_name = "TEXT")]
    colour: Option<String>,
    /// The face of the test panel.
    #[arg(long)]
    face: Option<Face>,
    /// What was seen, in words.
    #[arg(long, value_name = "TEXT")]
    seen: Option<String>,
    /// How well it pleased: 1 not at all, 5 entirely.
    #[arg(long, value_name = "1..5")]
    rating: Option<u32>,
    /// Lux on the bare test panel.
    #[arg(long, value_name = "LUX", requires = "through_lx", value_parser = super::value::lux::<f64>)]
    bare_lx: Option<f64>,
    /// Lux on the stone over it.
    #[arg(long, value_name = "LUX", requires = "bare_lx", value_parser = super::value::lux::<f64>)]
    through_lx: Option<f64>,
    /// Who looked.
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    present: Vec<String>,
    /// The day, YYYY-MM-DD.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

pub(crate) fn run(args: &ChangeArgs, setting: &Setting<'_>) -> Outcome {
    let Named { project, trial } = &args.named;
    let desk = setting.desk()?;
    let path = format!("{}/trials/{trial}.json", desk.reading.book.project(project)?);
    if let Some((bare, through)) = args.bare_lx.zip(args.through_lx) {
        lux_pair(bare, through)?;
    }
    let date = args.date.map(|day| setting.around.happened(Some(day))).transpose()?;
    let before: Trial = record::existing(&desk.reading, &path, Kind::Trial)?;
    let edit = |t: &mut Trial| {
        if args.cct.is_some() {
            (t.cct_k, t.colour) = (args.cct, None);
        }
        if args.colour.is_some() {
            (t.cct_k, t.colour) = (None, args.colour.clone());
        }
        t.face = args.face.unwrap_or(t.face);
        t.seen = args.seen.clone().unwrap_or_else(|| t.seen.clone());
        t.rating = args.rating.unwrap_or(t.rating);
        t.bare_lx = args.bare_lx.map(Lux).or(t.bare_lx);
        t.through_lx = args.through_lx.map(Lux).or(t.through_lx);
        if !args.present.is_empty() {
            t.present.clone_from(&args.present);
        }
        t.date = date.unwrap_or(t.date);
        if *t == before {
            let fault = Fault::usage("no-change", format!("trial {trial} says all of that already"));
            return Err(Box::new(fault.fix(format!("see it: underlit show {project} trial {trial}"))));
        }
        Ok(())
    };
    let message = |t: &Trial| format!("{project}: trial {trial} put right: {}\n", t.seen);
    record::change(&desk, &path, Kind::Trial, Changes::new(), message, edit)?;
    setting.done(format!("changed trial {trial}"));
    setting.wrote(project, Kind::Trial, Some(trial.as_str()), &path);
    Ok(Exit::Done)
}
