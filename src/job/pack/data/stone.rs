//! What the data say of a stone, and of what was measured on it.

use serde::Serialize;

use crate::job::masses::DensityFrom;

/// A stone that panels use.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StoneData {
    /// The swatch.
    pub swatch: String,
    /// What the stone is called.
    pub stone: String,
    /// What it is.
    pub material: String,
    /// The lot or bundle.
    pub lot: Option<String>,
    /// Its surface.
    pub finish: Option<String>,
    /// Thickness of the swatch.
    pub swatch_thickness_um: i64,
    /// Thickness of the slab.
    pub slab_thickness_um: i64,
    /// Its density, at the most.
    pub density_kg_m3: i64,
    /// The same at the least.
    pub density_least_kg_m3: i64,
    /// Where that comes from.
    pub density_from: DensityFrom,
    /// What was measured on the swatch.
    pub measured: Vec<MeasuredData>,
    /// The panels that it covers.
    pub panels: Vec<String>,
}

/// Where a measurement was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum MeasuredFrom {
    /// On the swatch.
    Swatch,
    /// In a trial over a test panel.
    Trial,
}

/// One measurement of a swatch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasuredData {
    /// Where it was made.
    pub from: MeasuredFrom,
    /// Its short name.
    pub id: String,
    /// The day.
    pub date: String,
    /// Thickness of the measured piece.
    pub thickness_um: i64,
    /// Bare lux, in thousandths.
    pub bare_mlx: Option<i64>,
    /// Lux through the stone, in thousandths.
    pub through_mlx: Option<i64>,
    /// The digest of its spectral file.
    pub spectrum_sha256: Option<String>,
    /// The digest of its photo.
    pub photo_sha256: Option<String>,
    /// The digest of the photo of the chart that told what its camera does to colours. Sealed only where there is one, so
    /// that packs of before stay as they were signed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart_sha256: Option<String>,
    /// The digest of the table of linear values that stands in place of a photo; sealed likewise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values_sha256: Option<String>,
}
