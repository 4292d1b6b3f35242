//! `swatch measure --pick`: a page on which stone and bare panel are picked in a photo, and a proposal.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::measure::{MeasureArgs, unmeasured};
use super::printer::quoted;
use super::setting::Setting;
use super::swatch_args::place;
use crate::model::kind::Kind;
use crate::ops::record::PhotoNotes;
use crate::stone::pick::{self, Command, Earlier, in_words};
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;

/// Writes the page and says what was found; the book stays as it is.
pub(super) fn pick(args: &MeasureArgs, photo: &Path, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let (folder, record) = place(&args.named, &reading)?;
    let swatch = unmeasured(args, &reading, &record)?;
    let earlier = Earlier::of(&reading, &folder, &swatch);
    let command = command(args, photo, setting);
    let made = pick::pick(photo, &command, earlier.as_ref()).map_err(|fault| vec![*fault])?;
    let named = &args.named;
    let page = args.page.clone().unwrap_or_else(|| {
        PathBuf::from(format!("{}-{}-{}-pick.html", named.project, named.swatch, args.measurement))
    });
    if !setting.around.dry_run {
        let io = |e: std::io::Error| vec![io_fault(&page.display().to_string(), "write", &e)];
        write_whole(&page, made.page.as_bytes()).map_err(io)?;
    }
    setting.done(format!("made the page to pick on: {}", page.display()));
    let proposal = made.proposal.as_ref();
    setting.printer.line(format!("  {}", in_words(proposal)));
    let whole = command.with(proposal);
    let use_it = if proposal.is_some() {
        "open the page to check the places, and run what it gives back; or, if they are right:"
    } else {
        "open the page to pick the places, and run what it gives back, which will look like this:"
    };
    setting.printer.line(format!("  {use_it}"));
    setting.printer.line(format!("  {whole}"));
    setting.printer.json(&json!({
        "project": named.project, "kind": Kind::Swatch.name(), "id": named.swatch, "file": record,
        "measurement": null, "remarks": proposal.map_or(&[][..], |p| &p.doubts),
        "pick": {
            "page": page.display().to_string(),
            "stone_px": proposal.map(|p| p.stone),
            "bare_px": proposal.map(|p| p.bare),
            "sureness": proposal.map(|p| p.sureness.word()),
            "command": whole,
        },
    }));
    Ok(Exit::Done)
}

/// The command that measures what is picked, with everything that was said already.
fn command(args: &MeasureArgs, photo: &Path, setting: &Setting<'_>) -> Command {
    let path = |path: &Path| quoted(&path.display().to_string());
    let mut before = String::from("underlit");
    if setting.folder != Path::new(".") {
        before += &format!(" --book {}", path(&setting.folder));
    }
    let named = &args.named;
    before += &format!(" swatch measure {} {} {}", named.project, named.swatch, args.measurement);
    before += &format!(" --photo {}", path(photo));
    let after = [
        args.panel_cct.map(|k| format!(" --panel-cct {k}")),
        args.panel_light.as_ref().map(|name| format!(" --panel-light {}", quoted(name))),
        args.panel_spectrum.as_ref().map(|file| format!(" --panel-spectrum {}", path(file))),
        args.thickness.map(|mm| format!(" --thickness {}mm", mm.0)),
        args.date.map(|day| format!(" --date {day}")),
        (args.photos.notes() == PhotoNotes::Kept).then(|| " --keep-photo-notes".to_owned()),
    ];
    let wants_light = args.panel_cct.is_none() && args.panel_light.is_none() && args.panel_spectrum.is_none();
    Command { before, after: after.into_iter().flatten().collect(), wants_light }
}
