//! Why a panel needs no test panel: a trial of an earlier job shows its stone, or the client wants none.
//!
//! A project is judged by its own files alone, so what a trial of another job showed is copied here as it was found.
//! Whether that still fits the stone and what was chosen is judged in `job::trials`.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::ids::{ProjectId, TrialId};
use crate::units::Millimetres;
use crate::words::{Face, LightKind};

/// Why no test panel is made for a panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoTestPanel {
    /// Why, in words that the client signs.
    pub because: String,
    /// The trial of an earlier job that shows the stone; none where nothing but the client's word stands for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier: Option<EarlierTrial>,
}

/// A trial of an earlier job, as it was found there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EarlierTrial {
    /// The job.
    pub project: ProjectId,
    /// The trial.
    pub trial: TrialId,
    /// The digest of the trial's record.
    pub sha256: Sha256Digest,
    /// The day of the trial.
    pub date: Date,
    /// What the stone is called.
    pub stone: String,
    /// The lot or bundle that it was cut from.
    pub lot: String,
    /// How thick the slab is that the swatch stood for.
    pub slab_mm: Millimetres,
    /// What the test panel's light could do.
    pub light: LightKind,
    /// The colour temperature that was tried, in kelvin.
    pub cct_k: u32,
    /// The face of the test panel.
    pub face: Face,
}
