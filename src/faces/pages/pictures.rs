//! The pictures beside a job's page: stones lit, photos made small, drawings with nothing in them but a drawing.
//!
//! Photos are decoded and encoded again, so that nothing but their pixels is handed on: no place, no camera, no script.

use crate::faces::packet::relit;
use crate::fault::Outcome;
use crate::gates::facts;
use crate::html::drawing::alone;
use crate::ids::PanelId;
use crate::job::Case;
use crate::light::picture::Picture as Pixels;
use crate::model::attachment::Attachment;
use crate::model::panel::Panel;
use crate::model::swatch::Swatch;
use crate::model::trial::Trial;
use crate::ops::reading::Reading;
use crate::pages::day;
use crate::pages::facts::Picture;
use crate::sheets;
use crate::store::read;
use crate::trust::redraw::{self, Known};
use crate::units::trimmed;

/// How wide the picture of a lit stone is, and a photo, in pixels.
const LIT: usize = 900;
const PHOTO: usize = 720;

/// What is left around a view that stands alone, in millimetres.
const AIR: f64 = 3.0;

/// Gathers the pictures of a job.
pub(super) struct Pictures<'a> {
    reading: &'a Reading,
    case: &'a Case<'a>,
    /// What is wrong with its sheets, by file.
    wrong: Vec<(String, String)>,
    files: Vec<(String, Vec<u8>)>,
}

impl<'a> Pictures<'a> {
    /// Judges the sheets of a job, each once for the same bytes.
    pub(super) fn of(reading: &'a Reading, case: &'a Case<'a>, known: &Known) -> Self {
        let faults = redraw::faults(&reading.book, &case.project.project.id, &|_| true, known);
        let wrong = faults.iter().map(|fault| (fault.file.clone().unwrap_or_default(), fault.to_string()));
        Pictures { reading, case, wrong: wrong.collect(), files: Vec::new() }
    }

    /// Everything that was gathered.
    pub(super) fn files(self) -> Vec<(String, Vec<u8>)> {
        self.files
    }

    fn add(&mut self, name: &str, bytes: Vec<u8>, size: [u32; 2], shows: String) -> Picture {
        let file = format!("{}/{name}", self.case.id());
        self.files.push((format!("jobs/{file}"), bytes));
        Picture { file, size, shows }
    }

    /// The stone of a panel over its light, and how bright it is expected to be; nothing where no white is chosen or no
    /// photo is kept.
    pub(super) fn lit(
        &mut self,
        id: &PanelId,
        panel: &Panel,
        remarks: &mut Vec<String>,
    ) -> (Option<Picture>, Option<String>) {
        let white = panel
            .light
            .as_ref()
            .filter(|light| light.kind.has_white_of_its_own())
            .and_then(|light| light.cct_k);
        let stone = self.case.project.stone_of(panel);
        let Some((cct_k, stone)) = white.zip(stone).filter(|(_, stone)| !stone.measured.is_empty()) else {
            return (None, None);
        };
        let look = match relit(self.reading, self.case, id, &[cct_k], LIT) {
            Ok(looks) => looks.into_iter().next(),
            Err(faults) => {
                remarks.extend(faults.iter().map(|f| format!("No picture of it lit: {}.", f.message)));
                None
            }
        };
        let Some(look) = look else { return (None, None) };
        let range = |[low, high]: [f64; 2], places| match [low, high].map(|value| trimmed(value, places)) {
            [low, high] if low == high => low,
            [low, high] => format!("{low} to {high}"),
        };
        let bright = match look.ratio {
            Some(ratio) => format!("Expected: {} times as bright as its surroundings.", range(ratio, 1)),
            None => format!("Expected: {} cd/m².", range(look.luminance_cd_m2, 0)),
        };
        let size = look.size.map(|n| u32::try_from(n).unwrap_or(u32::MAX));
        let shows = format!("{} lit at {cct_k} K", stone.stone);
        (Some(self.add(&format!("{id}-lit.jpg"), look.jpeg, size, shows)), Some(bright))
    }

    /// The view of a panel's drawing alone, and its sheets whole. One that is not what is drawn from the records, or was
    /// drawn for other facts, is not shown, and it is said why.
    pub(super) fn sheets(
        &mut self,
        id: &PanelId,
        panel: &Panel,
        remarks: &mut Vec<String>,
    ) -> (Option<Picture>, Vec<Picture>) {
        let Some(drawn) = self.case.project.renderings.get(id) else { return (None, Vec::new()) };
        let folder = format!("projects/{}/renderings/{id}/", self.case.id());
        let wrong = self.wrong.iter().filter(|(file, _)| file.starts_with(&folder));
        remarks.extend(wrong.map(|(_, why)| format!("Sheet not shown: {why}.")));
        let current = self.case.project.drawing_of(id).is_some_and(|d| d.digest == drawn.outline_sha256)
            && facts::sheet_fits(self.case, panel, drawn);
        if !current {
            remarks.push(format!(
                "The drawing shows an earlier state and is left out: `underlit draw {} {id}` makes it again.",
                self.case.id()
            ));
        }
        if !remarks.is_empty() {
            return (None, Vec::new());
        }
        let sheets = match redraw::sheets_of(&self.reading.book, self.case, id, drawn) {
            Ok(sheets) => sheets,
            Err(fault) => {
                remarks.push(format!("Sheet not shown: {fault}."));
                return (None, Vec::new());
            }
        };
        let of = sheets.len();
        let first = sheets.first().map(|(svg, _)| svg.as_str()).unwrap_or_default();
        let view = sheets::extent(first, "view").and_then(|[left, top, width, height]| {
            let window = [left - AIR, top - AIR, width + 2.0 * AIR, height + 2.0 * AIR];
            let (svg, size) = alone(first, Some("view"), Some(window))?;
            let shows = format!(
                "{}, drawn to scale with its dimensions; black bars mark the edges at which light enters",
                panel.title
            );
            Some(self.add(&format!("{id}-view.svg"), svg.into_bytes(), pixels(size), shows))
        });
        let mut pictures = Vec::new();
        for (at, (svg, _)) in sheets.iter().enumerate() {
            let number = at + 1;
            let Some((svg, size)) = alone(svg, None, None) else { continue };
            let shows = format!("{}, sheet {number} of {of}, revision {}", panel.title, drawn.revision);
            pictures.push(self.add(&format!("{id}-{number}.svg"), svg.into_bytes(), pixels(size), shows));
        }
        (view, pictures)
    }

    /// A circuit diagram.
    pub(super) fn circuit(&mut self, number: usize, title: &str, svg: &str) -> Option<Picture> {
        let (svg, size) = alone(svg, None, None)?;
        Some(self.add(&format!("circuit-{number}.svg"), svg.into_bytes(), pixels(size), title.to_owned()))
    }

    /// A photo of a stone: its own, or one by which it was measured.
    pub(super) fn stone(&mut self, stone: &Swatch) -> Option<Picture> {
        let measured = stone.measured.iter().filter_map(|m| Some(&m.photo.as_ref()?.picture));
        let photo = stone.photo.iter().chain(measured).next()?;
        self.photo("swatches", photo, &format!("stone-{}.jpg", stone.id), format!("{}, a photo", stone.stone))
    }

    /// A photo of a trial.
    pub(super) fn trial(&mut self, trial: &Trial) -> Option<Picture> {
        let shows = format!("A photo of the trial, {}", day(trial.date));
        self.photo("trials", trial.photo.as_ref()?, &format!("trial-{}.jpg", trial.id), shows)
    }

    /// A photo that cannot be read is told by `check`, and is no reason for no page.
    fn photo(&mut self, folder: &str, named: &Attachment, name: &str, shows: String) -> Option<Picture> {
        let small = || -> Outcome<Option<Pixels>> {
            let folder = format!("projects/{}/{folder}", self.case.id());
            let bytes = read::attached(&self.reading.book, &folder, named, "record it again")?;
            Ok(Pixels::read(&bytes).ok().map(|picture| picture.shrunk(PHOTO)))
        };
        let small = small().ok()??;
        let size = [small.width, small.height].map(|n| u32::try_from(n).unwrap_or(u32::MAX));
        let jpeg = small.jpeg().ok()?;
        Some(self.add(name, jpeg, size, shows))
    }
}

/// Millimetres of a drawing as pixels of a page, so that a browser knows its shape before it comes.
fn pixels(size_mm: [f64; 2]) -> [u32; 2] {
    size_mm.map(|mm| (mm * 4.0).round().clamp(1.0, 1e6) as u32)
}
