//! `calc white`: what white a light is.

use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};

use crate::cli::failure::{Exit, Outcome};
use crate::cli::printer::Printer;
use crate::fault::{self, Fault};
use crate::light::channels::{Channels, Prefer, planckian_xy};
use crate::light::figures::{Figures, NOMINAL_SOURCE, figures, target_duv};
use crate::light::illuminants;
use crate::light::mixing::{MixError, white_at};
use crate::light::spectrum::Spd;
use crate::ops::record::read_users_file;
use crate::stone::spectra;

/// Work out what white a light is: CCT, Duv, chromaticity, Ra, R9, Rf, Rg, nominal CCT.
///
/// A file is CSV (wavelength in nm, then a column for each light) or IES TM-27-14 XML. A name is a CIE
/// illuminant such as LED-B3, planck-3000, daylight-6500, or white-4000 for a typical LED white.
///
/// With --mix the lights are channels, mixed in flux to whites of these colour temperatures: two are warm and cool (also
/// a way between two measured whites), three red, green and blue, four red, green, blue and white, in this order. Of the
/// settings that four channels leave open, the one of the highest Rf is taken, or of the most flux. JSON then adds
/// `mix [{light, flux_share, drive}]`: the share of the flux, and how far the channel is turned up where the channels'
/// scales compare.
///
/// Example: underlit calc white --spectrum panel.csv --light LED-B3 --json
///
/// Example: underlit calc white --spectrum warm.csv cool.csv --mix 3000,3500,4000
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    lights: Lights,
    /// Mix the lights to whites of these colour temperatures.
    #[arg(long, value_name = "KELVIN", value_delimiter = ',', value_parser = super::super::value::kelvin::<f64>)]
    mix: Vec<f64>,
    /// What the mix of four channels should have: the highest fidelity, or the most flux.
    #[arg(long, value_name = "WHAT", default_value = "fidelity", requires = "mix")]
    prefer: Preferred,
}

/// What to look for among settings of one colour.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Preferred {
    /// The highest fidelity index Rf.
    Fidelity,
    /// The most luminous flux.
    Flux,
}

/// The lights that a question is about; `calc through` asks for them in the same way.
#[derive(Debug, clap::Args)]
#[group(required = true, multiple = true)]
pub(super) struct Lights {
    /// Files with measured spectra.
    #[arg(long = "spectrum", value_name = "FILE", num_args = 1..)]
    files: Vec<PathBuf>,
    /// Lights by name.
    #[arg(long = "light", value_name = "NAME", num_args = 1..)]
    names: Vec<String>,
}

impl Lights {
    /// Every light under the name it was asked for by, files first; or all that is wrong with any of them.
    pub(super) fn read(&self, printer: &Printer) -> Result<Vec<(String, Spd)>, Vec<Fault>> {
        let (mut lights, mut faults) = (Vec::new(), Vec::new());
        for file in &self.files {
            match from_file(file, printer) {
                Ok(found) => lights.extend(found),
                Err(fault) => faults.push(*fault),
            }
        }
        for name in &self.names {
            match illuminants::named(name) {
                Ok(light) => lights.push((name.clone(), light)),
                Err(error) => faults.push(Fault::usage(error.code(), error.to_string()).fix(error.remedy())),
            }
        }
        if faults.is_empty() { Ok(lights) } else { Err(faults) }
    }
}

fn from_file(file: &Path, printer: &Printer) -> fault::Outcome<Vec<(String, Spd)>> {
    let (bytes, _) = read_users_file(file)?;
    let shown = file.display().to_string();
    let read = spectra::lights(&bytes, &shown)?;
    remark_on(&read.remarks, &shown, printer);
    Ok(read.value.into_iter().map(|known| (known.name, known.light)).collect())
}

/// Says on standard error what was fixed in a file.
pub(super) fn remark_on(remarks: &[String], file: &str, printer: &Printer) {
    for remark in remarks {
        printer.remark(format!("{file}: {remark}"));
    }
}

/// A number with at most `places` decimals, so that the last bits of two machines do not differ.
pub(super) fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    // Adding zero turns a negative zero, which would print as -0, into a plain one.
    (value * scale).round() / scale + 0.0
}

pub(crate) fn run(args: &Args, printer: &Printer) -> Outcome {
    let lights = args.lights.read(printer)?;
    if !args.mix.is_empty() {
        return mixed(args, &lights, printer);
    }
    let answers: Vec<Map<String, Value>> = lights
        .iter()
        .map(|(name, light)| {
            let found = figures(light);
            say(name, &found, printer);
            as_json(name, &found)
        })
        .collect();
    printer.json(&one_or_all(answers, "lights"));
    Ok(Exit::Done)
}

/// The lights as channels, mixed to each colour temperature.
fn mixed(args: &Args, lights: &[(String, Spd)], printer: &Printer) -> Outcome {
    let prefer = match args.prefer {
        Preferred::Fidelity => Prefer::Fidelity,
        Preferred::Flux => Prefer::Flux,
    };
    let (mut answers, mut faults) = (Vec::new(), Vec::new());
    for cct_k in &args.mix {
        match mix_of(lights, *cct_k, prefer) {
            Ok(mix) => answers.push((*cct_k, mix)),
            Err(fault) => faults.push(*fault),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let answers = answers
        .into_iter()
        .map(|(cct_k, mix)| {
            let (name, found) = (format!("{cct_k:.0} K mixed"), figures(&mix.light));
            say(&name, &found, printer);
            let shares: Vec<String> = lights
                .iter()
                .zip(&mix.channels)
                .map(|((light, _), (share, _))| format!("{:.0} % {light}", share * 100.0))
                .collect();
            printer.line(format!("  of the flux {}", shares.join(", ")));
            let mut answer = as_json(&name, &found);
            let parts = lights.iter().zip(&mix.channels).map(|((light, _), (share, drive))| {
                json!({
                    "light": light,
                    "flux_share": rounded(*share, 5),
                    "drive": drive.map(|d| rounded(d, 5)),
                })
            });
            answer.insert("mix".into(), parts.collect());
            answer
        })
        .collect();
    printer.json(&one_or_all(answers, "lights"));
    Ok(Exit::Done)
}

/// A mix, and each channel's share of its flux with how far it is turned up.
struct Mix {
    light: Spd,
    channels: Vec<(f64, Option<f64>)>,
}

fn mix_of(lights: &[(String, Spd)], cct_k: f64, prefer: Prefer) -> fault::Outcome<Mix> {
    let bad = |error: MixError| Box::new(Fault::usage(error.code(), error.to_string()).fix(error.remedy()));
    let channels: Vec<&Spd> = lights.iter().map(|(_, light)| light).collect();
    let coloured = match channels.as_slice() {
        [warm, cool] => {
            let mix = white_at(warm, cool, cct_k).map_err(bad)?;
            let shares = vec![(1.0 - mix.cool_share, None), (mix.cool_share, None)];
            return Ok(Mix { light: mix.light, channels: shares });
        }
        [red, green, blue, rest @ ..] if rest.len() < 2 => Channels {
            red: (*red).clone(),
            green: (*green).clone(),
            blue: (*blue).clone(),
            white: rest.first().map(|white| (*white).clone()),
        },
        others => {
            return Err(Box::new(
                Fault::usage(
                    "mix-channels",
                    format!("{} lights cannot be the channels of one light", others.len()),
                )
                .fix("give warm and cool; red, green and blue; or red, green, blue and white"),
            ));
        }
    };
    if !(1000.0..=25_000.0).contains(&cct_k) {
        return Err(Box::new(
            Fault::usage("mix-out-of-reach", format!("{cct_k} K is outside the range of whites"))
                .fix("choose one from 1000 to 25000 K"),
        ));
    }
    let (setting, _) = coloured.best(planckian_xy(cct_k), prefer).map_err(bad)?;
    let flux = setting.light.xyz()[1];
    let shares = channels
        .iter()
        .zip(setting.drive)
        .map(|(channel, drive)| (drive * channel.xyz()[1] / flux, Some(drive)))
        .collect();
    Ok(Mix { light: setting.light, channels: shares })
}

/// All answers under `all`; a single one also stands at the top, so that one question has a plain answer.
pub(super) fn one_or_all(answers: Vec<Map<String, Value>>, all: &str) -> Value {
    let mut top = match answers.as_slice() {
        [one] => one.clone(),
        _ => Map::new(),
    };
    top.insert(all.into(), Value::from(answers.into_iter().map(Value::Object).collect::<Vec<_>>()));
    Value::Object(top)
}

fn say(name: &str, found: &Figures, printer: &Printer) {
    let white = &found.white;
    let index = |v: Option<f64>| v.map_or("none".to_string(), |v| format!("{v:.1}"));
    printer.line(format!("{name}:"));
    match white.cct_k {
        Some(cct) => {
            let nominal = match found.nominal_k {
                Some(k) => format!("nominal {k} K ({NOMINAL_SOURCE})"),
                None => format!(
                    "in no nominal bin; such a white should have Duv {:+.4} ({NOMINAL_SOURCE})",
                    target_duv(cct)
                ),
            };
            printer.line(format!("  {cct:.0} K, Duv {:+.4}, {nominal}", rounded(white.duv, 4)));
        }
        None => {
            let dominant = white.dominant_nm.map_or(String::new(), |nm| {
                if nm < 0.0 {
                    format!(", complement of {:.0} nm", -nm)
                } else {
                    format!(", dominant wavelength {nm:.0} nm")
                }
            });
            printer
                .line(format!("  a colour temperature has no meaning here: Duv {:+.3}{dominant}", white.duv));
        }
    }
    printer.line(format!(
        "  x {:.4}, y {:.4}, u′ {:.4}, v′ {:.4}",
        white.x, white.y, white.u_prime, white.v_prime
    ));
    printer.line(format!(
        "  Ra {}, R9 {}, Rf {}, Rg {}",
        index(found.ra),
        index(found.r9),
        index(found.rf),
        index(found.rg)
    ));
}

fn as_json(name: &str, found: &Figures) -> Map<String, Value> {
    let white = &found.white;
    let round = |v: Option<f64>, places| v.map(|v| rounded(v, places));
    let value = json!({
        "light": name,
        "cct_k": round(white.cct_k, 1),
        "duv": rounded(white.duv, 6),
        "x": rounded(white.x, 6),
        "y": rounded(white.y, 6),
        "u_prime": rounded(white.u_prime, 6),
        "v_prime": rounded(white.v_prime, 6),
        "ra": round(found.ra, 2),
        "r9": round(found.r9, 2),
        "rf": round(found.rf, 2),
        "rg": round(found.rg, 2),
        "nominal_k": found.nominal_k,
        "dominant_nm": round(white.dominant_nm, 1),
    });
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}
