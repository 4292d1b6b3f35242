//! A page on which stone and bare panel are picked in a photo, and the command that it gives back.

use std::path::Path;

use base64ct::{Base64, Encoding as _};
use serde_json::json;

use super::look::source::attached;
use super::spectra::{PictureFile, picture};
use crate::fault::{Fault, Outcome};
use crate::html::Html;
use crate::html::document::{BASE, Document};
use crate::ids::SwatchId;
use crate::light::area::Area;
use crate::light::picture::Picture;
use crate::light::proposal::{Place, Proposal, Sureness, propose};
use crate::model::swatch::Swatch;
use crate::ops::reading::Reading;
use crate::ops::record::{PhotoNotes, read_photo};

const STYLE: &str = include_str!("pick/pick.css");
const SCRIPT: &str = include_str!("pick/pick.js");

/// How wide the photo is on the page, in pixels.
const WIDEST: usize = 1600;

/// What the command that measures says besides the two places.
#[derive(Clone, Debug)]
pub(crate) struct Command {
    /// Up to the photo.
    pub(crate) before: String,
    /// What follows the places.
    pub(crate) after: String,
    /// True where it says nothing of the panel's light yet.
    pub(crate) wants_light: bool,
}

impl Command {
    /// The whole, with places in it; `PLACE` stands for one that is still to be picked.
    #[must_use]
    pub(crate) fn with(&self, proposal: Option<&Proposal>) -> String {
        let [stone, bare] = match proposal {
            None => ["PLACE".to_owned(), "PLACE".to_owned()],
            Some(found) => [found.stone, found.bare].map(spelled),
        };
        let light = if self.wants_light { " --panel-cct KELVIN" } else { "" };
        format!("{} --stone {stone} --bare {bare}{light}{}", self.before, self.after)
    }
}

/// A place as the command takes it.
fn spelled(place: Place) -> String {
    place.map(|n| n.to_string()).join(",")
}

/// A page to pick on, and what is proposed on it.
#[derive(Clone, Debug)]
pub(crate) struct Pick {
    /// The page.
    pub(crate) page: String,
    /// Where stone and bare panel seem to be.
    pub(crate) proposal: Option<Proposal>,
}

/// The places of a photo that was measured before.
#[derive(Clone, Debug)]
pub(crate) struct Earlier {
    measurement: SwatchId,
    size: [usize; 2],
    stone: Place,
    bare: Place,
}

impl Earlier {
    /// Those of the newest photo of a swatch whose places are rectangles and in one picture; none where there is none, or
    /// its file cannot be read.
    pub(crate) fn of(reading: &Reading, folder: &str, swatch: &Swatch) -> Option<Earlier> {
        let photos = swatch.measured.iter().filter_map(|m| Some((m, m.photo.as_ref()?)));
        let (m, photo) = photos.max_by_key(|(m, _)| m.date)?;
        let rectangle = |text: &str| match text.parse::<Area>().ok()? {
            Area::Rectangle { x, y, width, height } => {
                Some([x, y, width, height].map(|v| v.round() as usize))
            }
            Area::Polygon(_) => None,
        };
        let (stone, bare) = (rectangle(&photo.stone)?, rectangle(&photo.bare)?);
        if photo.bare_picture.is_some() {
            return None;
        }
        let (bytes, name) = attached(reading, folder, &photo.picture).ok()?;
        let taken = picture(&PictureFile { bytes: &bytes, name: &name }).ok()?;
        Some(Earlier { measurement: m.id.clone(), size: [taken.width, taken.height], stone, bare })
    }

    /// The same places in another photo of the same size, which somebody confirms.
    fn proposed(&self, picture: &Picture) -> Option<Proposal> {
        let said = format!(
            "they lie where measurement {} has them, whose photo has the same size.",
            self.measurement
        );
        (self.size == [picture.width, picture.height]).then(|| Proposal {
            bare: self.bare,
            stone: self.stone,
            sureness: Sureness::Likely,
            doubts: vec![said],
        })
    }
}

/// Makes the page for a photo; the places of one that was measured before are proposed again.
///
/// # Errors
/// Everything that is refused of a photo.
pub(crate) fn pick(file: &Path, command: &Command, earlier: Option<&Earlier>) -> Outcome<Pick> {
    let shown = file.display().to_string();
    // Nothing but its pixels is handed on, so its notes need not be taken out.
    let (bytes, _) = read_photo(file, PhotoNotes::Kept)?;
    let picture = picture(&PictureFile { bytes: &bytes, name: &shown })?;
    let proposal = earlier.and_then(|earlier| earlier.proposed(&picture)).or_else(|| propose(&picture));
    let jpeg = picture
        .shrunk(WIDEST)
        .jpeg()
        .map_err(|e| Box::new(Fault::data(e.code(), e.to_string()).in_file(&shown).fix(e.remedy())))?;
    let name = file.file_name().map_or_else(|| shown.clone(), |n| n.to_string_lossy().into_owned());
    let told = json!({
        "width": picture.width, "height": picture.height,
        "stone": proposal.as_ref().map(|p| p.stone), "bare": proposal.as_ref().map(|p| p.bare),
        "before": command.before, "after": command.after, "wants_light": command.wants_light,
    });
    let body = body(&name, [picture.width, picture.height], &jpeg, command, proposal.as_ref(), &told);
    let document = Document {
        language: "en",
        title: &format!("Pick stone and bare panel: {name}"),
        pictures: "data:",
        style: &format!("{BASE}{STYLE}"),
        script: Some(SCRIPT),
    };
    Ok(Pick { page: document.around(&body), proposal })
}

/// What is proposed, in sentences.
#[must_use]
pub(crate) fn in_words(proposal: Option<&Proposal>) -> String {
    match proposal {
        None => "No place in the photo looks like a bare panel with a lit stone beside it: pick both.".into(),
        Some(found) => {
            let doubts: String = found.doubts.iter().map(|doubt| format!(" Look twice: {doubt}")).collect();
            format!(
                "Stone and bare panel were found in the photo; how sure: {}.{doubts} Check both before you use them.",
                found.sureness.word()
            )
        }
    }
}

fn body(
    name: &str,
    [width, height]: [usize; 2],
    jpeg: &[u8],
    command: &Command,
    proposal: Option<&Proposal>,
    told: &serde_json::Value,
) -> Html {
    let mut html = Html::default();
    let [wide, high] = [width, height].map(|n| n.to_string());
    html.raw("<header><h1>Where is the stone, where is the bare panel?</h1><p>").said(&in_words(proposal));
    html.raw("</p></header><main><p id=\"help\" class=\"small\">Choose which one, then draw it in the photo with finger or \
        mouse. Or go to a frame with the Tab key: arrow keys move it, arrow keys with Shift change its size. The \
        bare panel is lit panel without stone, evenly bright and nowhere overexposed; the stone is what is measured, \
        without its rim.</p><fieldset class=\"which\"><legend>Draw</legend><label><input type=\"radio\" name=\"which\" \
        value=\"stone\" checked> the stone</label><label><input type=\"radio\" name=\"which\" value=\"bare\"> the bare \
        panel</label><label><input type=\"radio\" name=\"which\" value=\"mark\"> a known length</label></fieldset>");
    let address = format!("data:image/jpeg;base64,{}", Base64::encode_string(jpeg));
    let alt = format!("The photo {name}, {width} × {height} pixels");
    html.raw("<div id=\"photo\">");
    html.open(
        "img",
        &[("src", &address), ("alt", &alt), ("width", &wide), ("height", &high), ("draggable", "false")],
    );
    for (id, called) in [("stone", "Stone"), ("bare", "Bare")] {
        html.open("button", &[("type", "button"), ("id", id), ("class", "frame"), ("hidden", "")]);
        html.raw("<span>").text(called).raw("</span></button>");
    }
    html.open(
        "svg",
        &[
            ("id", "mark"),
            ("viewBox", &format!("0 0 {wide} {high}")),
            ("preserveAspectRatio", "none"),
            ("aria-hidden", "true"),
        ],
    );
    html.raw("<line id=\"mark-line\"/></svg></div><div class=\"figures\">");
    let places =
        [("stone", "Stone", proposal.map(|p| p.stone)), ("bare", "Bare panel", proposal.map(|p| p.bare))];
    for (id, called, place) in places {
        html.raw("<fieldset><legend>").text(called).raw(", in pixels</legend>");
        for (at, (part, label)) in
            ["left", "top", "width", "height"].into_iter().zip(["Left", "Top", "Width", "Height"]).enumerate()
        {
            let value = place.map_or_else(String::new, |p| p[at].to_string());
            let most = if at % 2 == 0 { &wide } else { &high };
            html.raw("<label>").text(label).raw(" ");
            html.open(
                "input",
                &[
                    ("type", "number"),
                    ("id", &format!("{id}-{part}")),
                    ("min", "0"),
                    ("max", most),
                    ("inputmode", "numeric"),
                    ("value", &value),
                ],
            );
            html.raw("</label>");
        }
        html.raw("</fieldset>");
    }
    html.raw("<fieldset><legend>A known length, such as a ruler on the stone (may be left out)</legend>");
    let ends = [
        ("x", "From left"),
        ("y", "From top"),
        ("to-x", "To left"),
        ("to-y", "To top"),
        ("mm", "Length in mm"),
    ];
    for (part, label) in ends {
        html.raw("<label>").text(label).raw(" ");
        let most = match part {
            "mm" => "5000",
            "x" | "to-x" => wide.as_str(),
            _ => high.as_str(),
        };
        let id = format!("mark-{part}");
        html.open(
            "input",
            &[("type", "number"), ("id", &id), ("min", "0"), ("max", most), ("inputmode", "numeric")],
        );
        html.raw("</label>");
    }
    html.raw("</fieldset></div>");
    if command.wants_light {
        html.raw("<p><label>Colour temperature of the panel's light, in kelvin <input type=\"number\" id=\"kelvin\" \
            min=\"1000\" max=\"20000\" inputmode=\"numeric\"></label></p>");
    }
    html.raw("<h2>The command to run</h2><p><label for=\"command\">It measures the stone and keeps the photo in the \
        book.</label></p>");
    html.open("textarea", &[("id", "command"), ("rows", "4"), ("readonly", ""), ("spellcheck", "false")]);
    html.text(&command.with(proposal)).raw("</textarea><p><button type=\"button\" id=\"copy\" hidden>Copy the \
        command</button> <span id=\"said\" role=\"status\"></span></p></main><footer><p>This page sends nothing and \
        loads nothing.</p></footer><script type=\"application/json\" id=\"told\">");
    html.json(told).raw("</script>");
    html
}
