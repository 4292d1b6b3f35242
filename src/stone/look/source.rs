//! What was measured on a swatch, read from its files: spectra before a photo, a photo before lux readings.

use jiff::civil::Date;

use super::Asked;
use super::answer::MeasuredBy;
use crate::fault::{Fault, Outcome};
use crate::ids::{SwatchId, TrialId};
use crate::job::brightness;
use crate::light::columns::Read;
use crate::light::combine::{BELIEVED, BELIEVED_STAND_IN, CONTRADICT_FROM};
use crate::light::look::Stone;
use crate::light::recover::Method;
use crate::light::spectrum::Spd;
use crate::light::stone::{Photographed, contradiction_of};
use crate::light::swatch_photo::SwatchPhoto;
use crate::light::thickness::{Measured, is_one_piece};
use crate::model::attachment::Attachment;
use crate::model::snapshot::Snapshot;
use crate::model::swatch::{Part, PhotoReading, Swatch, Transmittance};
use crate::ops::reading::Reading;
use crate::stone::measure::impossible;
use crate::stone::spectra::{self, Beside, KnownLight, Photo, PictureFile};
use crate::store::read;
use crate::units::Millimetres;

/// What a prediction is made from.
#[derive(Debug)]
pub(crate) struct Source {
    /// Spectra of the body and of a vein; empty where photos tell the colours.
    body: Vec<Measured>,
    vein: Vec<Measured>,
    /// The photos that are used, the newest last.
    photos: Vec<Pictured>,
    /// The newest photo itself, to show, with its measurement.
    shown: Option<(SwatchId, Photo)>,
    measurements: Vec<SwatchId>,
    date: Option<Date>,
}

/// What a photo told, with the light that it was taken over.
#[derive(Debug)]
struct Pictured {
    measurement: SwatchId,
    date: Date,
    told: SwatchPhoto,
    light: KnownLight,
    /// True where a typical light of the panel's CCT stands in for the panel's own.
    stand_in: bool,
    thickness_mm: Millimetres,
    file: String,
}

/// A trial's photo that the colours are told from as well.
#[derive(Clone, Debug)]
pub(crate) struct TrialPhoto {
    /// The trial.
    pub trial: TrialId,
    /// What the photo told.
    pub told: SwatchPhoto,
    /// The trial's light.
    pub light: KnownLight,
    /// How far its values are believed, relative.
    pub believed: f64,
}

/// Reads what a swatch's measurements tell about its colours; none where there are lux readings only.
///
/// # Errors
/// `nothing-measured`, `unknown-measurement`, files that are missing, changed or unfit.
pub(crate) fn read(
    reading: &Reading,
    folder: &str,
    snapshot: &Snapshot,
    swatch: &Swatch,
    asked: &Asked,
    remarks: &mut Vec<String>,
) -> Result<Option<Source>, Vec<Fault>> {
    let chosen: Vec<&Transmittance> = match &asked.measurement {
        None => swatch.measured.iter().collect(),
        Some(id) => swatch.measured.iter().filter(|m| m.id == *id).collect(),
    };
    if chosen.is_empty() {
        // The meter's readings of trials alone tell how bright it is.
        if asked.measurement.is_none() && !brightness::measured(swatch, snapshot).is_empty() {
            return Ok(None);
        }
        return Err(vec![nothing(swatch, asked)]);
    }
    let mut source = Source {
        body: Vec::new(),
        vein: Vec::new(),
        photos: Vec::new(),
        shown: None,
        measurements: Vec::new(),
        date: None,
    };
    for m in chosen.iter().filter(|m| m.spectrum.is_some()) {
        let Some(attachment) = &m.spectrum else { continue };
        let (bytes, name) = attached(reading, folder, attachment)?;
        let Read { value, .. } = spectra::stone(&bytes, &name, m.spectrum_column.as_deref())?;
        let piece = Measured { thickness_mm: m.thickness_mm, stone: value.stone };
        match m.of_part() {
            Part::Body => source.body.push(piece),
            Part::Vein => source.vein.push(piece),
        }
        source.measurements.push(m.id.clone());
        source.date = source.date.max(Some(m.date));
    }
    let mut with_photo: Vec<&&Transmittance> =
        chosen.iter().filter(|m| m.photo.is_some() || m.values.is_some()).collect();
    with_photo.sort_by_key(|m| m.date);
    if !source.body.is_empty() {
        // A measured spectrum tells the colours; the newest photo is only shown.
        with_photo.retain(|m| m.photo.is_some());
        with_photo.drain(..with_photo.len().saturating_sub(1));
    }
    for m in with_photo {
        let light = panel_light(reading, folder, m)?;
        let (told, file) = if let Some(photo) = &m.photo {
            let (found, file) = photographed(reading, folder, photo, &light)?;
            let told = found.measured.clone();
            source.shown = Some((m.id.clone(), found));
            (told, file)
        } else if let Some(values) = &m.values {
            let (bytes, file) = attached(reading, folder, values)?;
            (spectra::values(&bytes, &file, &light.light)?, file)
        } else {
            continue;
        };
        source.photos.push(Pictured {
            measurement: m.id.clone(),
            date: m.date,
            told,
            light,
            stand_in: m.panel_spectrum.is_none() && m.panel_light.is_none(),
            thickness_mm: m.thickness_mm,
            file,
        });
    }
    if source.body.is_empty() {
        without_contradiction(&mut source.photos, remarks);
    }
    if let Some(newest) = source.photos.last() {
        if source.body.is_empty() {
            source.measurements = source.photos.iter().map(|p| p.measurement.clone()).collect();
            source.date = Some(newest.date);
            source.vein.clear();
            for photo in &source.photos {
                let several = source.photos.len() > 1;
                let named =
                    |r: &String| if several { format!("{}: {r}", photo.measurement) } else { r.clone() };
                remarks.extend(photo.told.remarks.iter().map(named));
            }
        } else if source.vein.is_empty() && newest.told.clusters.vein.is_some() {
            remarks.push(format!(
                "the photo shows a vein whose spectrum was not measured: measure it with --part vein, or predict \
                 from the photo with --measurement {}",
                newest.measurement
            ));
        }
    }
    if source.body.is_empty() && source.photos.is_empty() {
        if !source.vein.is_empty() {
            return Err(vec![
                Fault::data("no-body", "only a vein of this stone was measured")
                    .fix("measure the body as well: underlit swatch measure"),
            ]);
        }
        return Ok(None);
    }
    Ok(Some(source))
}

/// Leaves the newest photo alone where photos of one piece contradict each other, and says so.
fn without_contradiction(photos: &mut Vec<Pictured>, remarks: &mut Vec<String>) {
    let views: Vec<Photographed<'_>> = photos.iter().map(Pictured::view).collect();
    // A colour that no stone can have is said when the stone is asked for, with its file.
    let Some(most) = contradiction_of(&views).filter(|most| *most >= CONTRADICT_FROM) else { return };
    let names: Vec<String> =
        photos.iter().map(|p| format!("{} over {}", p.measurement, p.light.name)).collect();
    photos.drain(..photos.len() - 1);
    let newest = photos.last().map_or_else(String::new, |p| p.measurement.to_string());
    remarks.push(format!(
        "the photos contradict each other by ΔE00 {most:.0} ({}), so the newest, {newest}, is used alone: check that \
         each names the light it was taken over and shows the same place, or choose one with --measurement",
        names.join(", ")
    ));
}

fn nothing(swatch: &Swatch, asked: &Asked) -> Fault {
    match &asked.measurement {
        Some(id) if !swatch.measured.is_empty() => {
            let known: Vec<&str> = swatch.measured.iter().map(|m| m.id.as_str()).collect();
            Fault::usage("unknown-measurement", format!("swatch {} has no measurement {id}", swatch.id))
                .fix(format!("there are: {}", known.join(", ")))
        }
        _ => Fault::usage("nothing-measured", format!("nothing was measured on swatch {}", swatch.id)).fix(
            format!(
                "measure it with a spectrum, a photo or two lux readings: underlit swatch measure {} {} NAME …",
                asked.project, swatch.id
            ),
        ),
    }
}

/// An attachment's bytes, held to the record's digest, with its path for faults.
///
/// # Errors
/// What the disk says, and `attachment-differs`.
pub(crate) fn attached(
    reading: &Reading,
    folder: &str,
    attachment: &Attachment,
) -> Outcome<(Vec<u8>, String)> {
    let path = format!("{folder}/{}", attachment.file);
    let bytes = read::attached(&reading.book, folder, attachment, "measure it again")?;
    Ok((bytes, path))
}

fn photographed(
    reading: &Reading,
    folder: &str,
    photo: &PhotoReading,
    light: &KnownLight,
) -> Outcome<(Photo, String)> {
    let (bytes, name) = attached(reading, folder, &photo.picture)?;
    let kept = |a: &Option<Attachment>| a.as_ref().map(|a| attached(reading, folder, a)).transpose();
    let (other, chart) = (kept(&photo.bare_picture)?, kept(&photo.chart_picture)?);
    let second = other.as_ref().map(|(bytes, name)| (PictureFile { bytes, name }, photo.exposure_ratio));
    let chart = chart.as_ref().map(|(bytes, name)| PictureFile { bytes, name }).zip(photo.chart.as_deref());
    let chart = chart.map(|(file, place)| spectra::chart(&file, place, &light.light)).transpose()?;
    let file = PictureFile { bytes: &bytes, name: &name };
    let scale = photo.scale_mark.as_deref().zip(photo.scale_mm);
    let beside = Beside { second, chart, scale };
    let found = spectra::photo(&file, &photo.stone, &photo.bare, beside, &light.light)?;
    Ok((found, name))
}

/// The light of the panel that a measurement was taken over, from the best that its record says of it.
///
/// # Errors
/// A spectral file that is missing, changed or unfit; an unknown light; `panel-light-unknown`.
pub(crate) fn panel_light(reading: &Reading, folder: &str, m: &Transmittance) -> Outcome<KnownLight> {
    if let Some(attachment) = &m.panel_spectrum {
        let (bytes, name) = attached(reading, folder, attachment)?;
        return Ok(spectra::one_light(&bytes, &name)?.value);
    }
    if let Some(name) = &m.panel_light {
        return spectra::named(name);
    }
    match m.panel_cct_k {
        Some(cct) => spectra::white(cct),
        None => Err(Box::new(
            Fault::data("panel-light-unknown", format!("the light of measurement {} is not known", m.id))
                .fix("measure anew with --panel-spectrum, --panel-light or --panel-cct"),
        )),
    }
}

impl Pictured {
    /// How it was taken, in words.
    fn how(&self, light: &str) -> String {
        match (self.told.exact, self.told.chart_off) {
            (false, None) => format!("a photo over {light}"),
            (false, Some(_)) => {
                format!("a photo over {light}, a chart telling what the camera does to colours")
            }
            (true, None) => format!("a camera's linear values over {light}"),
            (true, Some(_)) => format!("a camera's linear values over {light} with those of a chart"),
        }
    }

    fn view(&self) -> Photographed<'_> {
        Photographed {
            photo: &self.told,
            light: &self.light.light,
            thickness_mm: self.thickness_mm,
            believed: if self.stand_in { BELIEVED_STAND_IN } else { BELIEVED },
        }
    }
}

impl TrialPhoto {
    fn view(&self, thickness_mm: Millimetres) -> Photographed<'_> {
        Photographed { photo: &self.told, light: &self.light.light, thickness_mm, believed: self.believed }
    }
}

impl Source {
    /// True where photos tell the colours, so that a trial's photo can tell more.
    #[must_use]
    pub(crate) fn is_photographed(&self) -> bool {
        self.body.is_empty()
    }

    /// By how much a trial's photo contradicts the photos of the swatch itself, CIEDE2000; none where its colour is
    /// one that no stone can have.
    #[must_use]
    pub(crate) fn contradicted_by(&self, trial: &TrialPhoto, thickness: Millimetres) -> Option<f64> {
        let mut views: Vec<Photographed<'_>> = self.photos.iter().map(Pictured::view).collect();
        views.push(trial.view(thickness));
        contradiction_of(&views)
    }

    /// The stone, told by the swatch's measurements and, where these are photos, by the photos of `trials` too, whose
    /// piece has the swatch's own thickness.
    ///
    /// # Errors
    /// `photo-light-wrong`, where a photo shows a colour that no stone can have.
    pub(crate) fn stone(&self, trials: &[TrialPhoto], thickness: Millimetres) -> Outcome<Stone> {
        if !self.body.is_empty() {
            return Ok(Stone::measured(&self.body, &self.vein));
        }
        let mut views: Vec<Photographed<'_>> = self.photos.iter().map(Pictured::view).collect();
        views.extend(trials.iter().map(|t| t.view(thickness)));
        let files: Vec<&str> = self.photos.iter().map(|p| p.file.as_str()).collect();
        Stone::photographed_often(&views).ok_or_else(|| impossible(&files.join(", ")))
    }

    /// The thicknesses that were measured, rising.
    #[must_use]
    pub(crate) fn thicknesses(&self) -> Vec<Millimetres> {
        let mut all: Vec<Millimetres> = match self.body.as_slice() {
            [] => self.photos.iter().map(|p| p.thickness_mm).collect(),
            body => body.iter().map(|m| m.thickness_mm).collect(),
        };
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        if self.body.is_empty() {
            all.dedup_by(|a, b| is_one_piece(*a, *b));
        }
        all
    }

    /// The photo to show, its light, and how thick the piece in it is, where there is one.
    #[must_use]
    pub(crate) fn photo(&self) -> Option<(&Photo, &Spd, Millimetres)> {
        let (id, photo) = self.shown.as_ref()?;
        let taken = self.photos.iter().find(|p| p.measurement == *id)?;
        Some((photo, &taken.light.light, taken.thickness_mm))
    }

    /// What else tells the spectra of the shown photo's piece, for the sheet's reader: every photo of the swatch and
    /// of a trial with its light, or that they were measured. None where the shown photo is all there is.
    #[must_use]
    pub(crate) fn told_by(&self, trials: &[TrialPhoto]) -> Option<String> {
        let (shown, _) = self.shown.as_ref()?;
        if !self.body.is_empty() {
            return Some("the spectra behind the pictures are the measured ones".into());
        }
        let own = self.photos.iter().map(|p| format!("{} over {}", p.measurement, p.light.name));
        let tried = trials.iter().map(|t| format!("trial {} over {}", t.trial, t.light.name));
        let all: Vec<String> = own.chain(tried).collect();
        (all.len() > 1).then(|| {
            format!(
                "the picture is the photo {}; its spectra fit {} photos: {}",
                shown,
                all.len(),
                all.join("; ")
            )
        })
    }

    /// How the stone was measured, for the answer.
    #[must_use]
    pub(crate) fn measured_by(&self, method: Method, trials: usize) -> MeasuredBy {
        let spectral = !self.body.is_empty();
        let over: Vec<&str> = self.photos.iter().map(|p| p.light.name.as_str()).collect();
        let method = match over.as_slice() {
            _ if spectral => "its spectrum was measured".into(),
            [one] => format!("{}, from {}", method.words(), self.photos[0].how(one)),
            many => format!("{}, from {} photos over {}", method.words(), many.len(), many.join(", ")),
        };
        let method = match trials {
            0 => method,
            1 => format!("{method}, and from the photo of a trial"),
            n => format!("{method}, and from the photos of {n} trials"),
        };
        MeasuredBy {
            by: if spectral { "spectrum" } else { "photo" },
            certainty: if spectral { "measured" } else { "estimated" },
            method,
            measurements: self.measurements.clone(),
            thicknesses_mm: self.thicknesses(),
            date: self.date,
        }
    }
}
