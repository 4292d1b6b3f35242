//! `panel etch`: letters among the etched lines of a panel.

use std::path::PathBuf;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::model::kind::Kind;
use crate::model::panel::Panel;
use crate::ops::outline::{self, Etching, panel_with_drawing};
use crate::ops::record;
use crate::shape::{self, Align, Point};
use crate::store::Changes;
use crate::units::{Millimetres, trimmed};
use crate::words::counted;

/// Letters to etch.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// What is to be read; once for each line, from the top, or with \n where a new line begins.
    #[arg(long, value_name = "TEXT", required = true)]
    text: Vec<String>,
    /// How high a capital letter is.
    #[arg(long, value_name = "LENGTH")]
    height: Millimetres,
    /// A place on the line that the letters of the first line stand on, on the drawing: from the left and from below.
    #[arg(long, value_name = "X,Y", value_parser = place, allow_hyphen_values = true)]
    at: Point,
    /// How the lines stand to that place: they begin there (left), have their middle there (middle) or end there (right).
    #[arg(long, value_name = "WAY", default_value_t = Align::Left)]
    align: Align,
    /// From the line that letters stand on to the next one below; by default as the font's maker has it.
    #[arg(long, value_name = "LENGTH")]
    line_spacing: Option<Millimetres>,
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
    let (panel, drawing) = panel_with_drawing(&before, &args.panel)?;
    for (length, what, like) in [
        (Some(args.height), "height", "--height 40mm"),
        (args.line_spacing, "distance from line to line", "--line-spacing 70mm"),
    ] {
        if length.is_some_and(|length| length.0 <= 0.0) {
            let fault = Fault::usage("letters", format!("the {what} must be greater than 0"));
            return Err(vec![fault.fix(format!("write it like {like}"))]);
        }
    }
    let lines: Vec<&str> =
        args.text.iter().flat_map(|text| text.split('\n')).flat_map(|text| text.split("\\n")).collect();
    let text =
        lines.iter().map(|line| line.trim()).filter(|line| !line.is_empty()).collect::<Vec<_>>().join(" / ");
    let font = args.font_file.as_ref().map(|file| record::read_users_file(file).map(|(bytes, _)| bytes));
    let font = font.transpose().map_err(|f| vec![*f])?;
    let folder = desk.reading.book.project(&args.project)?;
    let drawn = drawing.as_drawn(panel);
    let etching = Etching {
        lines: &lines,
        font: font.as_deref(),
        setting: shape::LetterSetting {
            capital_mm: args.height.0,
            at: args.at,
            align: args.align,
            spacing_mm: args.line_spacing.map(|mm| mm.0),
        },
        replaces: args.replace,
    };
    let (lettered, letters) = outline::lettered(drawn, &etching)?;
    let kept = &lettered.etchings[..lettered.etchings.len() - letters.len()];
    let over = shape::etched_over(kept, &letters);
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
                Some(before) => format!("{before}; {text}"),
                None => text.clone(),
            });
            p.etching_depth_mm = args.depth.or(p.etching_depth_mm);
            Ok(())
        },
    )?;
    let units = desk.reading.shop.book.units;
    let (left, right) = shape::reach(&letters);
    setting.done(format!("etched “{text}” into panel {}", args.panel));
    setting.printer.line(format!(
        "  {}, {} wide, from {} to {} on the drawing; this panel needs an exact rendering that is signed",
        counted(letters.len(), "closed line", "closed lines"),
        units.show(Millimetres(right - left)),
        units.show(Millimetres(left)),
        units.show(Millimetres(right)),
    ));
    if let Some(first) = over.first() {
        let more = match over.len() - 1 {
            0 => String::new(),
            more => format!(", {} more", counted(more, "line", "lines")),
        };
        setting.printer.line(format!(
            "  note: the letters cross lines that are etched already, near ({}, {}) mm{more}: they are cut twice there. \
             Where that is not meant: underlit undo, and give another --at, or --replace",
            trimmed(first.x, 1),
            trimmed(first.y, 1)
        ));
    }
    setting.wrote(&args.project, Kind::Panel, Some(args.panel.as_str()), &path);
    Ok(Exit::Done)
}
