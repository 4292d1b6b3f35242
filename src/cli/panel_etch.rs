//! `panel etch`: letters among the etched lines of a panel.

use std::path::PathBuf;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::ops::outline::{self, Etching, unknown_panel};
use crate::ops::record;
use crate::shape::{self, Point};
use crate::store::Changes;
use crate::trust::project::drawing;
use crate::units::Millimetres;
use crate::words::counted;

/// Letters to etch.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// What is to be read, in one line.
    #[arg(long, value_name = "TEXT")]
    text: String,
    /// How high a capital letter is.
    #[arg(long, value_name = "LENGTH")]
    height: Millimetres,
    /// Where the line begins that the letters stand on, on the drawing: from the left and from below.
    #[arg(long, value_name = "X,Y", value_parser = place, allow_hyphen_values = true)]
    at: Point,
    /// That is the middle of what is seen.
    #[arg(long)]
    centred: bool,
    /// The font, as a .ttf or .otf file; by default Noto Sans.
    #[arg(long, value_name = "FILE")]
    font_file: Option<PathBuf>,
    /// How deep the etching is.
    #[arg(long, value_name = "LENGTH")]
    depth: Option<Millimetres>,
    /// In place of all that is etched so far.
    #[arg(long)]
    replace: bool,
}

/// A place on a drawing.
fn place(text: &str) -> Result<Point, String> {
    let (x, y) = text.split_once(',').ok_or("write it like 400mm,120mm")?;
    let length = |part: &str| part.trim().parse::<Millimetres>().map_err(|e| e.to_string());
    Ok(Point::new(length(x)?.0, length(y)?.0))
}

pub(crate) fn run(args: &Args, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let before = desk.reading.project(&args.project)?;
    let Some(panel) = before.panels.get(&args.panel) else {
        return Err(vec![unknown_panel(&before, &args.panel)]);
    };
    if args.height.0 <= 0.0 {
        return Err(vec![
            Fault::usage("letters", "the height must be greater than 0").fix("write it like --height 40mm"),
        ]);
    }
    let font = args.font_file.as_ref().map(|file| record::read_users_file(file).map(|(bytes, _)| bytes));
    let font = font.transpose().map_err(|f| vec![*f])?;
    let folder = desk.reading.book.project(&args.project)?;
    // As it is drawn, whatever sizes follow from it.
    let bare = Panel { sizes: None, ..panel.clone() };
    let drawn = drawing(&desk.reading.book, &folder, &bare).map_err(|f| vec![f])?.outline;
    let etching = Etching {
        text: &args.text,
        font: font.as_deref(),
        setting: shape::LetterSetting { capital_mm: args.height.0, at: args.at, centred: args.centred },
        replaces: args.replace,
    };
    let (lettered, letters) = outline::lettered(&drawn, &etching)?;
    let mut changes = Changes::new();
    let (folder, path) = (format!("{folder}/panels"), format!("{folder}/panels/{}.json", args.panel));
    let bytes = outline::bytes_for_book(&lettered);
    let name = format!("{}.outline.json", args.panel);
    let attachment = record::attach_bytes(&folder, &name, bytes, &mut changes)?;
    let signed = outline::keep_signed(&desk.reading, &before, panel, attachment.sha256, &mut changes)?;
    let message = format!("{}: etches letters into panel {}\n", args.project, args.panel);
    record::change(
        &desk,
        &path,
        Kind::Panel,
        changes,
        |_: &Panel| message,
        |p| {
            p.outline = attachment;
            p.signed_outlines = signed;
            p.etching = Some(match p.etching.take().filter(|_| !args.replace) {
                Some(before) => format!("{before}; {}", args.text),
                None => args.text.clone(),
            });
            p.etching_depth_mm = args.depth.or(p.etching_depth_mm);
            Ok(())
        },
    )?;
    let units = desk.reading.shop.book.units;
    let (left, right) = shape::reach(&letters);
    setting.done(format!("etched “{}” into panel {}", args.text, args.panel));
    setting.printer.line(format!(
        "  {}, {} wide, from {} to {} on the drawing; this panel needs an exact rendering that is signed",
        counted(letters.len(), "closed line", "closed lines"),
        units.show(Millimetres(right - left)),
        units.show(Millimetres(left)),
        units.show(Millimetres(right)),
    ));
    setting.wrote(&args.project, Kind::Panel, Some(args.panel.as_str()), &path);
    Ok(Exit::Done)
}
