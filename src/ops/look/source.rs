//! What was measured on a swatch, read from its files: spectra before a photo, a photo before lux readings.

use jiff::civil::Date;

use super::Asked;
use super::answer::MeasuredBy;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::light::columns::Read;
use crate::light::look::Stone;
use crate::light::recover::Method;
use crate::light::spectrum::Spd;
use crate::light::thickness::Measured;
use crate::model::attachment::Attachment;
use crate::model::id::SwatchId;
use crate::model::swatch::{Part, PhotoReading, Swatch, Transmittance};
use crate::ops::desk::Reading;
use crate::ops::measure::impossible;
use crate::ops::spectra::{self, KnownLight, Photo, PictureFile};
use crate::store::safe_path::{LARGEST_ATTACHMENT, read_plain};
use crate::units::Millimetres;

/// What a prediction is made from.
#[derive(Debug)]
pub struct Source {
    /// Spectra of the body and of a vein; empty where the photo tells the colours.
    body: Vec<Measured>,
    vein: Vec<Measured>,
    photo: Option<Pictured>,
    measurements: Vec<SwatchId>,
    date: Option<Date>,
}

/// A photo with the light that it was taken over.
#[derive(Debug)]
struct Pictured {
    photo: Photo,
    light: KnownLight,
    thickness_mm: Millimetres,
    file: String,
}

/// Reads what a swatch's measurements tell about its colours; none where there are lux readings only.
///
/// # Errors
/// `nothing-measured`, `unknown-measurement`, files that are missing, changed or unfit.
pub fn read(
    reading: &Reading,
    folder: &str,
    swatch: &Swatch,
    asked: &Asked,
    remarks: &mut Vec<String>,
) -> Result<Option<Source>, Vec<Fault>> {
    let chosen: Vec<&Transmittance> = match &asked.measurement {
        None => swatch.measured.iter().collect(),
        Some(id) => swatch.measured.iter().filter(|m| m.id == *id).collect(),
    };
    if chosen.is_empty() {
        return Err(vec![nothing(swatch, asked)]);
    }
    let one = |f: Box<Fault>| vec![*f];
    let mut source =
        Source { body: Vec::new(), vein: Vec::new(), photo: None, measurements: Vec::new(), date: None };
    for m in chosen.iter().filter(|m| m.spectrum.is_some()) {
        let Some(attachment) = &m.spectrum else { continue };
        let (bytes, name) = attached(reading, folder, attachment).map_err(one)?;
        let Read { value, .. } = spectra::stone(&bytes, &name, m.spectrum_column.as_deref()).map_err(one)?;
        let piece = Measured { thickness_mm: m.thickness_mm, stone: value.stone };
        match m.of_part() {
            Part::Body => source.body.push(piece),
            Part::Vein => source.vein.push(piece),
        }
        source.measurements.push(m.id.clone());
        source.date = source.date.max(Some(m.date));
    }
    let newest = chosen.iter().filter(|m| m.photo.is_some()).max_by_key(|m| m.date);
    if let Some((m, photo)) = newest.and_then(|m| Some((*m, m.photo.as_ref()?))) {
        let pictured = pictured(reading, folder, m, photo).map_err(one)?;
        if source.body.is_empty() {
            source.measurements = vec![m.id.clone()];
            source.date = Some(m.date);
            source.vein.clear();
            remarks.extend(pictured.photo.measured.remarks.iter().cloned());
        } else if source.vein.is_empty() && pictured.photo.measured.clusters.vein.is_some() {
            remarks.push(format!(
                "the photo shows a vein whose spectrum was not measured: measure it with --part vein, or predict \
                 from the photo with --measurement {}",
                m.id
            ));
        }
        source.photo = Some(pictured);
    }
    if source.body.is_empty() && source.photo.is_none() {
        if !source.vein.is_empty() {
            return Err(vec![
                Fault::data("no-body", "only a vein of this stone was measured")
                    .mend("measure the body as well: underlit swatch measure"),
            ]);
        }
        return Ok(None);
    }
    Ok(Some(source))
}

fn nothing(swatch: &Swatch, asked: &Asked) -> Fault {
    match &asked.measurement {
        Some(id) if !swatch.measured.is_empty() => {
            let known: Vec<&str> = swatch.measured.iter().map(|m| m.id.as_str()).collect();
            Fault::usage("unknown-measurement", format!("swatch {} has no measurement {id}", swatch.id))
                .mend(format!("there are: {}", known.join(", ")))
        }
        _ => Fault::usage("nothing-measured", format!("nothing was measured on swatch {}", swatch.id)).mend(
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
pub fn attached(reading: &Reading, folder: &str, attachment: &Attachment) -> Outcome<(Vec<u8>, String)> {
    let path = format!("{folder}/{}", attachment.file);
    let bytes = read_plain(reading.book.root(), &path, LARGEST_ATTACHMENT)?;
    if Sha256Digest::of(&bytes) != attachment.sha256 {
        return Err(Box::new(
            Fault::data("attachment-differs", "the file is not the one that was measured")
                .in_file(path)
                .mend("put the right file back, or measure anew"),
        ));
    }
    Ok((bytes, path))
}

fn pictured(reading: &Reading, folder: &str, m: &Transmittance, photo: &PhotoReading) -> Outcome<Pictured> {
    let light = panel_light(reading, folder, m)?;
    let (bytes, name) = attached(reading, folder, &photo.picture)?;
    let other = photo.bare_picture.as_ref().map(|a| attached(reading, folder, a)).transpose()?;
    let second = other.as_ref().map(|(bytes, name)| PictureFile { bytes, name });
    let found = spectra::photo(
        &PictureFile { bytes: &bytes, name: &name },
        &photo.stone,
        &photo.bare,
        second.as_ref().map(|file| (file, photo.exposure_ratio)),
        &light.light,
    )?;
    Ok(Pictured { photo: found, light, thickness_mm: m.thickness_mm, file: name })
}

/// The light of the panel that a measurement was taken over, from the best that its record says of it.
fn panel_light(reading: &Reading, folder: &str, m: &Transmittance) -> Outcome<KnownLight> {
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
                .mend("measure anew with --panel-spectrum, --panel-light or --panel-cct"),
        )),
    }
}

impl Source {
    /// The stone, everything that passes it times `level`.
    ///
    /// # Errors
    /// `photo-light-wrong`, where the photo shows a colour that no stone can have.
    pub fn stone(&self, level: f64) -> Outcome<Stone> {
        if let (true, Some(p)) = (self.body.is_empty(), &self.photo) {
            let mut measured = p.photo.measured.clone();
            measured.clusters.body = measured.clusters.body.map(|t| t * level);
            measured.clusters.vein = measured.clusters.vein.map(|v| v.map(|t| t * level));
            return Stone::photographed(&measured, &p.light.light, p.thickness_mm)
                .ok_or_else(|| impossible(&p.file));
        }
        let scaled = |all: &[Measured]| -> Vec<Measured> {
            all.iter()
                .map(|m| Measured { thickness_mm: m.thickness_mm, stone: m.stone.map(|t| t * level) })
                .collect()
        };
        Ok(Stone::measured(&scaled(&self.body), &scaled(&self.vein)))
    }

    /// The thicknesses that were measured, rising.
    #[must_use]
    pub fn thicknesses(&self) -> Vec<Millimetres> {
        let mut all: Vec<Millimetres> = match (self.body.as_slice(), &self.photo) {
            ([], Some(p)) => vec![p.thickness_mm],
            (body, _) => body.iter().map(|m| m.thickness_mm).collect(),
        };
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    }

    /// The photo and its light, where there is one to show.
    #[must_use]
    pub fn photo(&self) -> Option<(&Photo, &Spd)> {
        self.photo.as_ref().map(|p| (&p.photo, &p.light.light))
    }

    /// How the stone was measured, for the answer.
    #[must_use]
    pub fn measured_by(&self, method: Method) -> MeasuredBy {
        let spectral = !self.body.is_empty();
        let method = match &self.photo {
            Some(p) if !spectral => format!("{}, from a photo over {}", method.words(), p.light.name),
            _ => "its spectrum was measured".into(),
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
