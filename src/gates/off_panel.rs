//! Ribs and etched lines that lie off their panel. One judge for the verbs, `check` and `status`: what has no part on the
//! panel cannot be built and is refused where it is new; what reaches beyond can, and is told.

use crate::fault::Fault;
use crate::model::panel::{Panel, Seam};
use crate::shape::{Ground, Off, Outline, Point};
use crate::units::trimmed;

/// A line of a panel that lies off it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct OffPanel {
    /// The code of its fault, where it is refused.
    pub(crate) code: &'static str,
    /// The file that it stands in, in the folder of the panel: its record, or its drawing.
    pub(crate) file: String,
    /// Where it stands there.
    pub(crate) pointer: String,
    /// True where no part of it lies on the panel.
    pub(crate) wholly: bool,
    /// What is wrong, in a sentence.
    pub(crate) message: String,
    /// How to fix it.
    pub(crate) fix: &'static str,
}

impl OffPanel {
    /// It as what is refused; `folder` is that of the panels of its project.
    #[must_use]
    pub(crate) fn fault(self, folder: &str) -> Fault {
        let fault = Fault::usage(self.code, self.message);
        fault.in_file(format!("{folder}/{}", self.file)).at_pointer(self.pointer).fix(self.fix)
    }
}

/// The most lines of one panel that are told: more are one mistake.
const MOST_TOLD: usize = 10;

/// Everything of a panel that lies off its outline as it is drawn, what cannot be built first.
#[must_use]
pub(crate) fn off_panel(panel: &Panel, outline: &Outline) -> Vec<OffPanel> {
    if panel.ribs.is_empty() && outline.etchings.is_empty() {
        return Vec::new();
    }
    let ground = Ground::of(outline);
    let ribs = panel.ribs.iter().enumerate().filter_map(|(n, rib)| of_rib(&ground, panel, n, rib));
    let etched = outline.etchings.iter().enumerate();
    let etched = etched.filter_map(|(n, path)| Some(of_etching(panel, n, ground.path_off(path)?)));
    let mut found: Vec<OffPanel> = ribs.chain(etched).collect();
    found.sort_by_key(|off| !off.wholly);
    found.truncate(MOST_TOLD);
    found
}

fn place(at: Point) -> String {
    format!("({}, {}) mm", trimmed(at.x, 1), trimmed(at.y, 1))
}

fn of_rib(ground: &Ground, panel: &Panel, n: usize, rib: &Seam) -> Option<OffPanel> {
    let [from, to] = [rib.from_mm, rib.to_mm].map(|[x, y]| Point::new(x.0, y.0));
    let off = ground.straight_off(from, to)?;
    let number = n + 1;
    let (message, fix) = if off.wholly {
        (
            format!("rib {number} lies nowhere behind the panel: it begins at {}", place(from)),
            "give it in the drawing's own coordinates: --rib 300mm,0mm:300mm,600mm, once for each rib",
        )
    } else {
        (
            format!("rib {number} reaches beyond the panel or over a cut-out, at {}", place(off.at)),
            "leave it where the rib does carry on there, or give its ends on the panel with --rib",
        )
    };
    let (file, pointer) = (format!("{}.json", panel.id), format!("/ribs/{n}"));
    Some(OffPanel { code: "rib-off-panel", file, pointer, wholly: off.wholly, message, fix })
}

fn of_etching(panel: &Panel, n: usize, off: Off) -> OffPanel {
    let (number, at) = (n + 1, place(off.at));
    let (message, fix) = if off.wholly {
        (
            format!("etched line {number} lies nowhere on the panel: it begins at {at}"),
            "move it onto the panel in the drawing, or leave it out",
        )
    } else {
        (
            format!("etched line {number} runs off the panel or over a cut-out, at {at}"),
            "leave it where it is to run out over the edge, which may chip there; else shorten it in the drawing",
        )
    };
    let (file, pointer) = (panel.outline.file.to_string(), format!("/etchings/{n}"));
    OffPanel { code: "etching-off-panel", file, pointer, wholly: off.wholly, message, fix }
}
