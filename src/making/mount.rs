//! How a panel is held behind its stone.

use crate::words::words;

words! {
    /// How a panel is held, and so how it comes out again when its light fails.
    Mount, "mount" {
        /// A drawer or tray under or behind the stone: the panel slides out, the stone stays.
        Tray = "tray",
        /// The stone lifts off and the panel lies open.
        RemovableStone = "removable-stone",
        /// A frame with a film front instead of stone on it: the front comes off from the face.
        FramedFront = "framed-front",
        /// Closed in for good: it cannot be served on site.
        Fixed = "fixed",
    }
}

words! {
    /// By which way a mounted panel is reached.
    OpeningWay, "way to open" {
        /// The tray slides out over one edge.
        Tray = "tray",
        /// From behind, where there is room to stand.
        Rear = "rear",
        /// The front or the stone swings on hinges along one edge.
        Hinged = "hinged",
        /// The front or the stone lifts off.
        LiftedOff = "lifted-off",
    }
}
