//! `label` and `request sheet`: prints for the bench, the parcel and the meter cupboard.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{GroupId, PanelId, ProjectId, RequestId};
use crate::ops::prints::{self, Asked};
use crate::sheets::prints::{draw_label, draw_order_sheet};
use crate::sheets::{About, drawn_with, pdf};
use crate::size::Size;
use crate::store::safe_path::io_fault;
use crate::store::write::write_whole;
use crate::trust::sheet_input::sheet_fault;
use crate::words::counted;

/// Print labels: for each test panel of a request, or for the service card of a panel.
///
/// A label of a test panel says what it is, for which job and stone, and where it goes. A service card label says what
/// somebody needs years later, when the light fails. The QR code opens the job's page where the book says where its pages
/// are to be seen (`pages` in book.json, or --address), and else says which job it is. Nobody signs a label.
///
/// Example: underlit label quay-bar --request first --volts 24
///
/// Example: underlit label quay-bar --panel front --into labels
///
/// Example: underlit label quay-bar --manual
#[derive(Debug, clap::Args)]
pub(crate) struct LabelArgs {
    /// The project.
    project: ProjectId,
    /// The request whose test panels get labels.
    #[arg(long, value_name = "REQUEST", required_unless_present_any = ["panel", "manual"], conflicts_with = "panel")]
    request: Option<RequestId>,
    /// Print the operation and maintenance sheet of the job instead, on A4.
    #[arg(long, conflicts_with_all = ["request", "panel"])]
    manual: bool,
    /// The panel whose service card gets a label.
    #[arg(long, value_name = "PANEL")]
    panel: Option<PanelId>,
    /// With --panel: the release group that it is for, where several take the panel.
    #[arg(long, value_name = "GROUP", requires = "panel")]
    group: Option<GroupId>,
    /// With --request: the voltage of the test panels; without it the label has a line to write it on.
    #[arg(long, value_name = "VOLTS", value_parser = super::value::volts::<f64>, requires = "request")]
    volts: Option<f64>,
    /// The label's width and height, with units, 30 to 420 mm each; by default 100mmx70mm, for a service card 210mmx148mm (A5).
    #[arg(long, value_name = "SIZE")]
    size: Option<Size>,
    #[command(flatten)]
    place: PlaceArgs,
}

/// Where prints go, and where their codes lead.
#[derive(Debug, clap::Args)]
pub(crate) struct PlaceArgs {
    /// Where the book's pages are to be seen, like https://pages.example/harbour; by default what book.json says.
    #[arg(long, value_name = "URL", value_parser = address)]
    address: Option<String>,
    /// The folder to write into; by default this one.
    #[arg(long, value_name = "DIR", default_value = ".")]
    into: PathBuf,
}

/// Print the order sheet of test panels: what is asked for and not yet sent, with boxes to tick.
///
/// Example: underlit request sheet
#[derive(Debug, clap::Args)]
pub(crate) struct SheetArgs {
    /// The project; by default every project of the book.
    project: Option<ProjectId>,
    /// One request, whether it was sent or not.
    #[arg(requires = "project")]
    request: Option<RequestId>,
    #[command(flatten)]
    place: PlaceArgs,
}

/// An address of pages: short enough for a code that a telephone reads off a label.
fn address(text: &str) -> Result<String, String> {
    let is_address = text.len() <= 200
        && ["https://", "http://"].iter().any(|start| text.len() > start.len() && text.starts_with(start))
        && text.bytes().all(|b| b.is_ascii_graphic());
    if is_address {
        Ok(text.to_owned())
    } else {
        Err("write an address like https://pages.example/harbour".into())
    }
}

pub(crate) fn label(args: &LabelArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    let (pages, group) = (args.place.address.as_deref(), args.group.as_ref());
    let asked = Asked { pages, today: setting.around.today(), group };
    if let Some(size) =
        args.size.filter(|s| ![s.width.0, s.height.0].iter().all(|mm| (30.0..=420.0).contains(mm)))
    {
        let message =
            format!("a label of {} × {} mm is not within 30 to 420 mm", size.width.0, size.height.0);
        return Err(vec![Fault::usage("out-of-range", message).fix("name another --size, like 100mmx70mm")]);
    }
    let size = |width, height| args.size.map_or((width, height), |s| (s.width.0, s.height.0));
    let (labels, name) = match (&args.request, &args.panel) {
        (Some(request), _) => {
            let size = size(100.0, 70.0);
            let labels =
                prints::test_panel_labels(&reading, &args.project, request, args.volts, size, &asked)?;
            (labels, format!("{}-{request}-label", args.project))
        }
        (None, Some(panel)) => {
            let label = prints::service_label(&reading, &args.project, panel, size(210.0, 148.0), &asked)?;
            (vec![label], format!("{}-{panel}-service-card", args.project))
        }
        (None, None) => {
            let label = prints::manual(&reading, &args.project, size(210.0, 297.0), &asked)?;
            (vec![label], format!("{}-operation-and-maintenance", args.project))
        }
    };
    let drawn: Vec<(String, (f64, f64))> = labels
        .iter()
        .map(|label| draw_label(label).map(|svg| (svg, label.size_mm)))
        .collect::<Result<_, _>>()
        .map_err(|e| vec![sheet_fault(&e)])?;
    let files = write(&args.place.into, &name, &drawn, setting)?;
    let pdf = args.place.into.join(&files[0]);
    setting.done(format!("printed {} into {}", counted(drawn.len(), "label", "labels"), pdf.display()));
    answer(&args.place, &files, &[], setting);
    Ok(Exit::Done)
}

pub(crate) fn sheet(args: &SheetArgs, setting: &Setting<'_>) -> Outcome {
    let reading = setting.reading()?;
    setting.tell_refused(&reading);
    let asked = Asked { pages: args.place.address.as_deref(), today: setting.around.today(), group: None };
    let (sheet, unread) =
        prints::order_sheet(&reading, args.project.as_ref(), args.request.as_ref(), &asked)?;
    let drawn = draw_order_sheet(&sheet);
    let name = match (&args.project, &args.request) {
        (Some(project), Some(request)) => format!("{project}-{request}-order"),
        (Some(project), None) => format!("{project}-test-panels"),
        (None, _) => "test-panels".to_owned(),
    };
    let files = write(&args.place.into, &name, &drawn, setting)?;
    let pdf = args.place.into.join(&files[0]);
    setting.done(format!("printed the order sheet into {}: {}", pdf.display(), sheet.summary));
    for id in &unread {
        setting.printer.line(format!("  left out: {id} cannot be read: underlit check {id}"));
    }
    answer(&args.place, &files, &unread, setting);
    Ok(Exit::Done)
}

/// Writes one PDF of all pages, and each page as SVG; gives the files' names, the PDF first.
fn write(
    into: &Path,
    name: &str,
    pages: &[(String, (f64, f64))],
    setting: &Setting<'_>,
) -> Result<Vec<String>, Vec<Fault>> {
    let sized: Vec<(&str, (f64, f64))> = pages.iter().map(|(svg, size)| (svg.as_str(), *size)).collect();
    let about =
        About { title: name.to_owned(), language: "en".into(), drawn_with: drawn_with(), ..About::default() };
    let whole = pdf(&sized, &about).map_err(|e| vec![sheet_fault(&e)])?;
    let mut files = vec![(format!("{name}.pdf"), whole)];
    for (number, (svg, _)) in (1..).zip(pages) {
        let number = if pages.len() == 1 { String::new() } else { format!("-{number}") };
        files.push((format!("{name}{number}.svg"), svg.clone().into_bytes()));
    }
    if !setting.around.dry_run {
        let io = |e: std::io::Error| vec![io_fault(&into.display().to_string(), "write", &e)];
        std::fs::create_dir_all(into).map_err(io)?;
        for (file, bytes) in &files {
            write_whole(&into.join(file), bytes).map_err(io)?;
        }
    }
    Ok(files.into_iter().map(|(file, _)| file).collect())
}

fn answer(place: &PlaceArgs, files: &[String], unread: &[ProjectId], setting: &Setting<'_>) {
    setting.printer.json(&json!({ "folder": place.into, "files": files, "unreadable_projects": unread }));
}
