//! Measuring a swatch: the user's readings and files judged before they are kept, and what they came to.
//!
//! What is kept is small and complete: the files themselves, what they were taken over, and the finding that a
//! gate reads without them.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::spectra::{self, Beside, KnownLight, PictureFile};
use crate::fault::{Fault, Outcome};
use crate::ids::SwatchId;
use crate::light::columns::Read;
use crate::light::figures::white_point;
use crate::light::look::Stone;
use crate::light::photometry::LuxPair;
use crate::light::recover::Method;
use crate::light::spectrum::{FIRST_NM, Spd, Transmittance as Curve};
use crate::light::swatch_photo::SwatchPhoto;
use crate::model::swatch::{Certainty, Found, FoundBy, Part, PhotoReading, Swatch, Transmittance};
use crate::ops::record::{PhotoNotes, attach_bytes, read_photo, read_users_file};
use crate::store::Changes;
use crate::units::{Lux, Millimetres};

/// What the user measured.
#[derive(Clone, Debug, Default)]
pub(crate) struct Asked {
    /// How thick the measured piece is; none where it is the swatch, or the file's column says it.
    pub thickness_mm: Option<Millimetres>,
    /// The part of the stone; the body where none.
    pub part: Option<Part>,
    /// Lux on the bare panel, and on the stone over it.
    pub lux: Option<(f64, f64)>,
    /// A spectral file of the stone.
    pub spectrum: Option<PathBuf>,
    /// Its column.
    pub column: Option<String>,
    /// A photo.
    pub photo: Option<AskedPhoto>,
    /// A table of linear values.
    pub values: Option<PathBuf>,
    /// The colour temperature of the panel.
    pub panel_cct_k: Option<u32>,
    /// Its light by name.
    pub panel_light: Option<String>,
    /// Its measured spectrum.
    pub panel_spectrum: Option<PathBuf>,
}

/// A photo of a stone over its lit panel.
#[derive(Clone, Debug)]
pub(crate) struct AskedPhoto {
    /// The photo.
    pub file: PathBuf,
    /// Where the stone is in it.
    pub stone: String,
    /// Where the bare panel is.
    pub bare: String,
    /// A second photo with the bare panel.
    pub second: Option<PathBuf>,
    /// How many times longer the stone's photo was exposed.
    pub exposure_ratio: Option<f64>,
    /// A photo of a chart by the same camera, and where the chart is in it.
    pub chart: Option<(PathBuf, String)>,
    /// Two points in the photo, and how far apart they are on the stone.
    pub scale: Option<(String, Millimetres)>,
    /// What becomes of what the photos tell of their maker.
    pub notes: PhotoNotes,
}

/// A measurement judged: the record's part, and what deserves a second look.
#[derive(Clone, Debug)]
pub(crate) struct Judged {
    /// What goes into the record.
    pub measurement: Transmittance,
    /// One sentence each.
    pub remarks: Vec<String>,
    /// The range that holds the luminous transmittance in nine of ten cases; none where an instrument read it.
    pub luminous_range: Option<[f64; 2]>,
}

/// No stone over a panel passes more than this: what looks so is no bare panel. Common practice, no source.
const CLEAREST: f64 = 0.9;
/// How far the luminous transmittances of two instruments may differ before it is said, relative.
const TWO_INSTRUMENTS: f64 = 0.10;
/// How far a stated colour temperature may differ from the spectrum's before it is said, in kelvin.
pub(crate) const STATED_CCT_K: u32 = 150;

/// Judges a measurement of a swatch and puts its files among the changes.
///
/// # Errors
/// Everything that is wrong with the readings or the files.
pub(crate) fn judge(
    swatch: &Swatch,
    id: &SwatchId,
    date: Date,
    asked: &Asked,
    folder: &str,
    changes: &mut Changes,
) -> Outcome<Judged> {
    let stem = format!("{}-{id}", swatch.id);
    let mut remarks = Vec::new();
    let mut measurement = Transmittance {
        id: id.clone(),
        date,
        thickness_mm: asked.thickness_mm.unwrap_or(swatch.thickness_mm),
        bare_lx: asked.lux.map(|l| Lux(l.0)),
        through_lx: asked.lux.map(|l| Lux(l.1)),
        spectrum: None,
        spectrum_column: None,
        photo: None,
        values: None,
        part: asked.part,
        panel_cct_k: asked.panel_cct_k,
        panel_light: asked.panel_light.clone(),
        panel_spectrum: None,
        found: None,
    };
    let pair = asked.lux.map(|(bare, through)| lux_pair(bare, through)).transpose()?;
    let panel = panel(asked, &stem, folder, &mut measurement, changes, &mut remarks)?;
    let mut found = pair.map(|pair| of_lux(pair, &measurement));
    let mut luminous_range = None;
    let lit = || {
        panel.as_ref().ok_or_else(|| {
            let what = "a photo tells a colour only where the panel's light is known";
            let fix = "add --panel-spectrum FILE, --panel-light NAME or --panel-cct KELVIN";
            Box::new(Fault::usage("missing-argument", what).fix(fix))
        })
    };
    if let Some(photo) = &asked.photo {
        let (told, range) =
            photo_taken(photo, &stem, folder, lit()?, &mut measurement, changes, &mut remarks)?;
        (found, luminous_range) = (Some(told), range);
    }
    if let Some(file) = &asked.values {
        let (bytes, ending) = read_users_file(file)?;
        let shown = file.display().to_string();
        let told = spectra::values(&bytes, &shown, &lit()?.light)?;
        let (told, range) = of_photo(&told, lit()?, measurement.thickness_mm, &shown, &mut remarks)?;
        measurement.values = Some(attach_bytes(folder, &format!("{stem}-values.{ending}"), bytes, changes)?);
        (found, luminous_range) = (Some(told), range);
    }
    if let Some(file) = &asked.spectrum {
        let column = asked.column.as_deref();
        found = Some(spectrum_taken(
            file,
            column,
            &stem,
            folder,
            panel.as_ref(),
            asked,
            &mut measurement,
            changes,
            &mut remarks,
        )?);
    }
    if let (Some(pair), Some(found)) = (pair, &found) {
        let off = found.luminous / pair.transmittance().max(f64::MIN_POSITIVE) - 1.0;
        if off.abs() > TWO_INSTRUMENTS {
            remarks.push(format!(
                "the lux readings say {:.2} % and the {} says {:.2} %: one of the two is off",
                pair.transmittance() * 100.0,
                if asked.spectrum.is_some() { "spectrum" } else { "photo" },
                found.luminous * 100.0
            ));
        }
    }
    if let (Some(found), Some(panel)) = (&mut found, panel.as_ref().filter(|p| p.measured)) {
        found.panel_duv = Some(rounded(white_point(&panel.light).duv, 5));
    }
    measurement.found = found;
    Ok(Judged { measurement, remarks, luminous_range })
}

/// Two lux readings as a pair.
///
/// # Errors
/// What the light room refuses about them.
pub(crate) fn lux_pair(bare: f64, through: f64) -> Outcome<LuxPair> {
    LuxPair::new(Lux(bare), Lux(through))
        .map_err(|error| Box::new(Fault::usage(error.code(), error.to_string()).fix(error.remedy())))
}

/// The light of the panel, from the best that is known of it.
fn panel(
    asked: &Asked,
    stem: &str,
    folder: &str,
    measurement: &mut Transmittance,
    changes: &mut Changes,
    remarks: &mut Vec<String>,
) -> Outcome<Option<KnownLight>> {
    let panel = if let Some(file) = &asked.panel_spectrum {
        let (bytes, ending) = read_users_file(file)?;
        let shown = file.display().to_string();
        let Read { value, remarks: fixed } = spectra::one_light(&bytes, &shown)?;
        remarks.extend(fixed.into_iter().map(|r| format!("{shown}: {r}")));
        measurement.panel_spectrum =
            Some(attach_bytes(folder, &format!("{stem}-panel.{ending}"), bytes, changes)?);
        Some(KnownLight { name: "the panel's measured spectrum".into(), ..value })
    } else if let Some(name) = &asked.panel_light {
        Some(spectra::named(name)?)
    } else if let (Some(cct), true) = (asked.panel_cct_k, asked.photo.is_some() || asked.values.is_some()) {
        remarks.push(format!(
            "the panel's own spectrum is not known; a typical LED white at {cct} K stands in for it"
        ));
        Some(spectra::white(cct)?)
    } else {
        None
    };
    if let Some(own) = panel.as_ref().and_then(KnownLight::cct_k) {
        match asked.panel_cct_k {
            Some(stated) if stated.abs_diff(own) > STATED_CCT_K => {
                remarks.push(format!("the panel is said to be {stated} K, but its light is {own} K"));
            }
            Some(_) => {}
            None => measurement.panel_cct_k = Some(own),
        }
    }
    Ok(panel)
}

fn of_lux(pair: LuxPair, measurement: &Transmittance) -> Found {
    let under = match (&measurement.panel_light, measurement.panel_cct_k) {
        (Some(name), _) => format!("the panel, {name}"),
        (None, Some(cct)) => format!("the panel at {cct} K"),
        (None, None) => "the panel".into(),
    };
    Found {
        by: FoundBy::LuxPair,
        certainty: Certainty::Measured,
        under,
        luminous: rounded(pair.transmittance(), 6),
        noise: None,
        panel_duv: None,
        vein_share: None,
        body: Vec::new(),
        body_low: Vec::new(),
        body_high: Vec::new(),
        vein: Vec::new(),
    }
}

fn photo_taken(
    asked: &AskedPhoto,
    stem: &str,
    folder: &str,
    panel: &KnownLight,
    measurement: &mut Transmittance,
    changes: &mut Changes,
    remarks: &mut Vec<String>,
) -> Outcome<(Found, Option<[f64; 2]>)> {
    let (bytes, ending) = read_photo(&asked.file, asked.notes)?;
    let shown = asked.file.display().to_string();
    let other = match asked.second.as_deref() {
        None => None,
        Some(file) => Some((file, read_photo(file, asked.notes)?)),
    };
    let other_name = other.as_ref().map(|(file, _)| file.display().to_string()).unwrap_or_default();
    let second = other
        .as_ref()
        .map(|(_, (bytes, _))| (PictureFile { bytes, name: &other_name }, asked.exposure_ratio));
    let chart = match &asked.chart {
        None => None,
        Some((file, place)) => Some((file.display().to_string(), place, read_photo(file, asked.notes)?)),
    };
    let charted = chart
        .as_ref()
        .map(|(name, place, (bytes, _))| spectra::chart(&PictureFile { bytes, name }, place, &panel.light))
        .transpose()?;
    let photo = spectra::photo(
        &PictureFile { bytes: &bytes, name: &shown },
        &asked.stone,
        &asked.bare,
        Beside {
            second,
            chart: charted,
            scale: asked.scale.as_ref().map(|(mark, long)| (mark.as_str(), *long)),
        },
        &panel.light,
    )?;
    let (found, range) = of_photo(&photo.measured, panel, measurement.thickness_mm, &shown, remarks)?;
    let mut kept = |name: &str, (bytes, ending): (Vec<u8>, String)| {
        attach_bytes(folder, &format!("{stem}-{name}.{ending}"), bytes, changes)
    };
    let bare_picture = other.map(|(_, read)| kept("bare", read)).transpose()?;
    let chart_picture = chart.map(|(_, _, read)| kept("chart", read)).transpose()?;
    measurement.photo = Some(PhotoReading {
        picture: kept("photo", (bytes, ending))?,
        stone: asked.stone.clone(),
        bare: asked.bare.clone(),
        bare_picture,
        exposure_ratio: asked.exposure_ratio,
        scale_mark: asked.scale.as_ref().map(|(mark, _)| mark.clone()),
        scale_mm: asked.scale.as_ref().map(|(_, long)| *long),
        chart_picture,
        chart: asked.chart.as_ref().map(|(_, place)| place.clone()),
    });
    Ok((found, range))
}

/// A stone's colour that no stone can have under the panel's light.
#[must_use]
pub(crate) fn impossible(file: &str) -> Box<Fault> {
    Box::new(
        Fault::data("photo-light-wrong", "no stone can have this colour under this light").in_file(file).fix(
            "check that the light named is the one in the photo, and that the two areas are not swapped",
        ),
    )
}

/// What a photo or its values came to, with the range of the luminous transmittance.
fn of_photo(
    told: &SwatchPhoto,
    panel: &KnownLight,
    thickness: Millimetres,
    file: &str,
    remarks: &mut Vec<String>,
) -> Outcome<(Found, Option<[f64; 2]>)> {
    remarks.extend(told.remarks.iter().map(|r| format!("{file}: {r}")));
    let stone = Stone::photographed(told, &panel.light, thickness).ok_or_else(|| impossible(file))?;
    let [body, low, high] = stone.body_spectra().ok_or_else(|| impossible(file))?;
    let clusters = &told.clusters;
    let found = Found {
        by: match stone.method() {
            Some(Method::Quadratic) => FoundBy::Quadratic,
            Some(Method::Smoothest) => FoundBy::Smoothest,
            _ => FoundBy::Midway,
        },
        certainty: Certainty::Estimated,
        under: panel.name.clone(),
        luminous: luminous(&body, &panel.light),
        noise: (!told.exact).then(|| rounded(told.noise.min(1.0), 4)),
        panel_duv: None,
        vein_share: clusters.vein.map(|_| rounded(clusters.vein_share, 4)),
        body: sampled(&body),
        body_low: sampled(&low),
        body_high: sampled(&high),
        vein: stone.vein_spectrum().map(|v| sampled(&v)).unwrap_or_default(),
    };
    if found.luminous > CLEAREST {
        let what = format!(
            "the stone looks {:.2} times as bright as the bare panel, so the area marked as bare panel is wrong",
            found.luminous
        );
        return Err(Box::new(
            Fault::data("photo-no-panel", what)
                .in_file(file)
                .fix("mark the bare, lit panel as such: no stone is nearly as bright as it"),
        ));
    }
    let range = stone.luminous_range(&panel.light);
    Ok((found, range))
}

#[allow(clippy::too_many_arguments, reason = "one file, one record, what is known beside it")]
fn spectrum_taken(
    file: &Path,
    column: Option<&str>,
    stem: &str,
    folder: &str,
    panel: Option<&KnownLight>,
    asked: &Asked,
    measurement: &mut Transmittance,
    changes: &mut Changes,
    remarks: &mut Vec<String>,
) -> Outcome<Found> {
    let (bytes, ending) = read_users_file(file)?;
    let shown = file.display().to_string();
    let Read { value, remarks: fixed } = spectra::stone(&bytes, &shown, column)?;
    remarks.extend(fixed.into_iter().map(|r| format!("{shown}: {r}")));
    if let Some(own) = value.thickness_mm {
        if asked.thickness_mm.is_some_and(|said| (said.0 - own.0).abs() > 0.01) {
            return Err(Box::new(
                Fault::usage("thickness-contradiction", format!("its column {} says {own}", value.name))
                    .in_file(shown)
                    .fix("leave --thickness out, or correct the column's name"),
            ));
        }
        measurement.thickness_mm = own;
    }
    let fallback;
    let light = match panel {
        Some(panel) => panel,
        None => {
            fallback = spectra::white(4000)?;
            &fallback
        }
    };
    measurement.spectrum = Some(attach_bytes(folder, &format!("{stem}.{ending}"), bytes, changes)?);
    measurement.spectrum_column = column.map(str::to_owned);
    Ok(Found {
        by: FoundBy::Spectrum,
        certainty: Certainty::Measured,
        under: light.name.clone(),
        luminous: luminous(&value.stone, &light.light),
        noise: None,
        panel_duv: None,
        vein_share: None,
        body: sampled(&value.stone),
        body_low: Vec::new(),
        body_high: Vec::new(),
        vein: Vec::new(),
    })
}

fn luminous(stone: &Curve, light: &Spd) -> f64 {
    rounded(stone.luminous(light).clamp(0.0, 1.0), 6)
}

fn sampled(stone: &Curve) -> Vec<f64> {
    Found::WAVELENGTHS_NM.iter().map(|nm| rounded(stone.values()[nm - FIRST_NM], 5)).collect()
}

/// A number with at most `places` decimals, and no negative zero.
fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale + 0.0
}
