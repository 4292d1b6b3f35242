//! How even the light would be, told and drawn: shared by `calc outline` and `panel evenness`.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::failure::{Exit, Outcome};
use super::printer::Printer;
use super::setting::Setting;
use super::wording::range;
use crate::fault::Fault;
use crate::ids::{PanelId, ProjectId};
use crate::light::evidence::WIDENS_FROM;
use crate::ops::evenness::{GuideSheet, check_name, evenness, write_page};
use crate::ops::evenness_record::{EvennessRecord, evenness_record};
use crate::ops::outline::panel_with_drawing;
use crate::shape::{Extraction, Figures, MODEL_NOTE, Outline};
use crate::sheets::LightPage;
use crate::units::{Millimetres, trimmed};
use crate::words::counted;

/// What is asked: which edges, how much comes out, and where the picture goes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked<'a> {
    /// What panel or drawing it is.
    pub(crate) title: &'a str,
    /// Numbers of the edges to light.
    pub(crate) lit: &'a [usize],
    /// What it lets out.
    pub(crate) sheet: GuideSheet,
    /// The file of the picture.
    pub(crate) picture: Option<&'a Path>,
    /// True where nothing is written.
    pub(crate) dry_run: bool,
    /// How this shop's panels came out beside the model; none outside a book.
    pub(crate) record: Option<&'a EvennessRecord>,
}

/// Tells how even the light would be, and draws it where a file is named.
pub(crate) fn tell(
    outline: &Outline,
    figures: &Figures,
    asked: &Asked<'_>,
    printer: &Printer,
) -> Result<Value, Vec<Fault>> {
    if let Some(file) = asked.picture {
        check_name(file).map_err(|f| vec![f])?;
    }
    let mut lit = asked.lit.to_vec();
    lit.sort_unstable();
    lit.dedup();
    let found = evenness(outline, figures, &lit, asked.sheet).map_err(|f| vec![f])?;
    let mut answer = json!({
        "lit_edges": lit, "model": MODEL_NOTE, "constant": null, "graded": null,
        "advice": found.advice.map(|advice| advice.advice), "reason": found.advice.map(|advice| advice.reason),
        "picture": asked.picture,
    });
    for (extraction, picture) in &found.pictures {
        let word = match extraction {
            Extraction::Constant => "constant",
            Extraction::Graded => "graded",
        };
        let nine = picture.nine_point_uniformity;
        let shown = nine.map_or("none".into(), |n| trimmed(n, 3));
        let whole = trimmed(picture.face_uniformity, 3);
        printer.line(format!(
            "even, {word:<9}  {shown} of nine points, {whole} of the whole face (darkest ÷ brightest); {} % of the light \
             comes out of the face",
            trimmed(100.0 * picture.out_share, 0)
        ));
        let own = asked.record.zip(nine).and_then(|(record, nine)| record.range(*extraction, nine));
        if let Some([low, high]) = own {
            printer.line(format!(
                "                 {} of nine points in nine of ten cases, as this shop's own panels came out",
                range(low, high, 2)
            ));
        }
        if let Some((at, why)) = picture.dark {
            printer.line(format!(
                "                 0 because at x {} mm, y {} mm {why}",
                trimmed(at.x, 0),
                trimmed(at.y, 0)
            ));
        }
        answer[word] = json!({
            "nine_point_uniformity": nine,
            "own_range": own.map(|[low, high]| json!({ "low": low, "high": high })),
            "face_uniformity": picture.face_uniformity,
            "nine_points": picture.nine_points,
            "out_share": picture.out_share,
            "dark": picture.dark.map(|(at, why)| json!({ "at_mm": [at.x, at.y], "why": why.to_string() })),
        });
    }
    printer.line(format!("                 {MODEL_NOTE}"));
    for words in asked.record.iter().flat_map(|record| in_words(record)) {
        printer.line(format!("own panels       {words}"));
    }
    if let Some(advice) = found.advice {
        printer.line(format!("advice           {} {}", advice.advice, advice.reason));
    }
    if let Some(file) = asked.picture {
        let page = LightPage {
            title: asked.title,
            outline,
            figures,
            lit_edges: &lit,
            extracted_share: asked.sheet.extracted_share,
            guide_mm: asked.sheet.thickness_mm.0,
            pictures: &found.pictures,
            advice: found.advice,
        };
        if asked.dry_run {
            printer.line(format!("dry run: would be drawn in {}", file.display()));
        } else {
            write_page(file, &page).map_err(|f| vec![f])?;
            printer.line(format!("drawn in         {}", file.display()));
        }
    }
    Ok(answer)
}

/// How panels came out beside the model, a sentence for each way of extraction that they tell of.
pub(crate) fn in_words(record: &EvennessRecord) -> Vec<String> {
    let panels = counted(record.all.len(), "panel", "panels");
    let ways = [(Extraction::Constant, "constant"), (Extraction::Graded, "graded")];
    let told: Vec<String> = ways
        .into_iter()
        .filter_map(|(way, word)| {
            let own = record.of(way)?;
            let side = if own.bias < 0.0 { "less" } else { "more" };
            Some(format!(
                "{word}: {} read on the bench {:.0} % {side} even than the model on average, spread by {:.0} % about that{}",
                counted(own.count, "panel", "panels"),
                own.bias.abs() * 100.0,
                own.spread * 100.0,
                if own.counts() { String::new() } else { format!("; from {WIDENS_FROM} on they give it a range") }
            ))
        })
        .collect();
    if told.is_empty() {
        return vec![format!(
            "{panels} with nine points read on the bench: from {WIDENS_FROM} on they give the model a range"
        )];
    }
    told
}

/// How even a panel's light would be for its lit edges or for others, with a picture to show. Panels whose nine points were
/// read on the bench (`built --nine-points`) are held against the model, and from 5 on give it a range.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The project.
    project: ProjectId,
    /// The panel's short name.
    panel: PanelId,
    /// Numbers of the edges to light, like 1,3; by default those that are chosen.
    #[arg(long, value_delimiter = ',', value_name = "EDGES")]
    edges: Vec<usize>,
    /// The share of an edge's light that has come out 300 mm from it, in a guide of 8 mm.
    #[arg(long, default_value_t = 0.63, value_name = "SHARE")]
    extracted_share: f64,
    /// How thick the guide is: a thinner one lets out more on the same way.
    #[arg(long, default_value = "8mm", value_name = "LENGTH")]
    guide_thickness: Millimetres,
    /// Draw the computed picture here: .svg or .png.
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
}

pub(crate) fn of_panel(args: &Args, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    let snapshot = reading.project(&args.project)?;
    let (panel, drawing) = panel_with_drawing(&snapshot, &args.panel)?;
    let chosen: Vec<usize> = panel.lit_edges.iter().map(|n| *n as usize).collect();
    let lit = if args.edges.is_empty() { &chosen } else { &args.edges };
    if lit.is_empty() {
        return Err(vec![
            Fault::usage("missing-argument", format!("no lit edges are chosen for panel {} yet", args.panel))
                .fix(format!(
                    "name them: --edges 1,3; edges are numbered 1 to {}",
                    drawing.figures.edges.len()
                )),
        ]);
    }
    let title = format!("{} / {} – {}", args.project, args.panel, panel.title);
    let sheet = GuideSheet { extracted_share: args.extracted_share, thickness_mm: args.guide_thickness };
    let record = evenness_record(&reading, sheet)?;
    let asked = Asked {
        title: &title,
        lit,
        sheet,
        picture: args.picture.as_deref(),
        dry_run: setting.around.dry_run,
        record: Some(&record),
    };
    let answer = tell(&drawing.outline, &drawing.figures, &asked, setting.printer)?;
    setting.printer.json(&json!({ "project": args.project, "panel": args.panel, "evenness": answer }));
    Ok(Exit::Done)
}
