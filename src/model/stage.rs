//! The stages of a project, in order. A stage is derived from signed moves; nothing stores it.

use crate::words::words;

words! {
    /// How far a project has come.
    Stage, "stage" {
        /// Opened: stones and panels are being listed.
        Intake = "intake",
        /// Test panels are asked for and stones tried.
        Sampling = "sampling",
        /// Light, face, edges and mount are being chosen.
        Selection = "selection",
        /// Exact renderings are drawn and signed.
        Rendering = "rendering",
        /// It may be built.
        Released = "released",
        /// It is built.
        Built = "built",
        /// It is installed and handed over.
        HandedOver = "handed-over",
    }
}

impl Stage {
    /// The stage after this one; none after the last.
    #[must_use]
    pub fn next(self) -> Option<Stage> {
        let at = Stage::ALL.iter().position(|s| *s == self)?;
        Stage::ALL.get(at + 1).copied()
    }
}
