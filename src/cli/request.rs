//! `request`: test panels asked for, sent and received.

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{ProjectId, RequestId, SwatchId};
use crate::model::kind::Kind;
use crate::model::request::Request;
use crate::ops::{Desk, record};
use crate::size::Size;
use crate::store::Changes;
use crate::words;
use crate::words::{Face, LightKind};

/// Test panels asked for, sent and received.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum RequestVerb {
    /// Ask for a test panel.
    ///
    /// Example: underlit request ask quay-bar first --swatch honey --cct 2700,3000,4000 --face diffused
    /// --size 300mmx200mm --address "Quay 4"
    Ask(AskArgs),
    /// Record that it was sent.
    ///
    /// Example: underlit request sent quay-bar first --consignment "parcel 8842"
    Sent(StepArgs),
    /// Record that it was received.
    ///
    /// Example: underlit request received quay-bar first --date 2026-09-11
    Received(StepArgs),
    /// Record that it came back from its loan.
    ///
    /// Example: underlit request returned quay-bar first --date 2026-10-02
    Returned(DayArgs),
    /// Record that it is lost: nobody waits for it any more, neither at the client's nor at the shop.
    ///
    /// Example: underlit request lost quay-bar first
    Lost(DayArgs),
    Sheet(super::label::SheetArgs),
    /// Take a request out.
    ///
    /// Example: underlit request remove quay-bar first
    Remove(Named),
}

/// A request of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    project: ProjectId,
    /// The request's short name.
    request: RequestId,
}

#[derive(Debug, clap::Args)]
pub(crate) struct AskArgs {
    #[command(flatten)]
    named: Named,
    /// The stones to be tried over it.
    #[arg(long, value_name = "SWATCH", value_delimiter = ',', required = true)]
    swatch: Vec<SwatchId>,
    /// What its light can do: static-white, warm-dim, tunable-white, rgb, rgbw or rgb-tunable-white.
    #[arg(long, default_value = "static-white")]
    light: LightKind,
    /// The colour temperatures, in kelvin, at least two for a choice.
    #[arg(long, value_name = "KELVIN", value_delimiter = ',', value_parser = super::value::kelvin::<u32>)]
    cct: Vec<u32>,
    /// The faces: diffused, clear.
    #[arg(long, value_delimiter = ',', required = true)]
    face: Vec<Face>,
    /// Its size, width and height with units.
    #[arg(long, value_name = "SIZE")]
    size: Size,
    /// How many of each.
    #[arg(long, default_value_t = 1)]
    quantity: u32,
    /// Where it goes.
    #[arg(long, value_name = "TEXT")]
    address: String,
    /// The day it must be there, YYYY-MM-DD.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    needed_by: Option<Date>,
    /// The day it must be back, YYYY-MM-DD, where it is on loan.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    return_by: Option<Date>,
    /// The day it is asked for; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct StepArgs {
    #[command(flatten)]
    named: Named,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
    /// What it travels by, with its number.
    #[arg(long, value_name = "TEXT")]
    consignment: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct DayArgs {
    #[command(flatten)]
    named: Named,
    /// The day; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    date: Option<Date>,
}

/// What became of a test panel.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Became {
    Sent,
    Received,
    Returned,
    Lost,
}

impl Became {
    fn word(self) -> &'static str {
        match self {
            Became::Sent => "was sent",
            Became::Received => "was received",
            Became::Returned => "came back",
            Became::Lost => "is lost",
        }
    }

    fn date(self, request: &mut Request) -> &mut Option<Date> {
        match self {
            Became::Sent => &mut request.sent,
            Became::Received => &mut request.received,
            Became::Returned => &mut request.returned,
            Became::Lost => &mut request.lost,
        }
    }
}

pub(crate) fn run(verb: &RequestVerb, setting: &Setting<'_>) -> Outcome {
    match verb {
        RequestVerb::Ask(args) => ask(args, &setting.desk()?, setting),
        RequestVerb::Sent(args) => {
            step(&args.named, args.date, args.consignment.as_ref(), Became::Sent, setting)
        }
        RequestVerb::Received(args) => {
            step(&args.named, args.date, args.consignment.as_ref(), Became::Received, setting)
        }
        RequestVerb::Returned(args) => step(&args.named, args.date, None, Became::Returned, setting),
        RequestVerb::Lost(args) => step(&args.named, args.date, None, Became::Lost, setting),
        RequestVerb::Sheet(args) => super::label::sheet(args, setting),
        RequestVerb::Remove(named) => {
            let desk = setting.desk()?;
            let path = place(named, &desk)?;
            let message = format!("{}: removes test-panel request {}\n", named.project, named.request);
            record::remove(&desk, &path, Kind::Request, &[], &message)?;
            setting.done(format!("removed request {}", named.request));
            setting.wrote(&named.project, Kind::Request, Some(named.request.as_str()), &path);
            Ok(Exit::Done)
        }
    }
}

fn place(named: &Named, desk: &Desk<'_>) -> Result<String, Vec<Fault>> {
    let project = desk.reading.book.project(&named.project)?;
    Ok(format!("{project}/requests/{}.json", named.request))
}

fn ask(args: &AskArgs, desk: &Desk<'_>, setting: &Setting<'_>) -> Outcome {
    let path = place(&args.named, desk)?;
    let snapshot = desk.reading.project(&args.named.project)?;
    if let Some(unknown) = args.swatch.iter().find(|s| !snapshot.swatches.contains_key(s)) {
        let known: Vec<&str> = snapshot.swatches.keys().map(SwatchId::as_str).collect();
        return Err(vec![
            Fault::usage("unknown-record", format!("there is no swatch {unknown} in {}", args.named.project))
                .fix(words::instead_of(unknown.as_str(), known, "describe it first: underlit swatch add …")),
        ]);
    }
    let request = Request {
        schema: "../../../schema/request.schema.json".into(),
        id: args.named.request.clone(),
        swatches: args.swatch.clone(),
        width_mm: args.size.width,
        height_mm: args.size.height,
        light: args.light,
        ccts_k: args.cct.clone(),
        faces: args.face.clone(),
        quantity: args.quantity,
        address: args.address.clone(),
        asked: setting.around.happened(args.date)?,
        needed_by: args.needed_by,
        return_by: args.return_by,
        sent: None,
        consignment: None,
        received: None,
        returned: None,
        lost: None,
        note: args.note.clone(),
    };
    let ccts: Vec<String> = request.ccts_k.iter().map(|k| format!("{k} K")).collect();
    let what = if ccts.is_empty() { request.light.to_string() } else { ccts.join(", ") };
    let message = format!("{}: asks for test panel {}: {what}\n", args.named.project, request.id);
    record::add(desk, &path, Kind::Request, &request, Changes::new(), &message)?;
    setting.done(format!("asked for test panel {}", request.id));
    setting.wrote(&args.named.project, Kind::Request, Some(request.id.as_str()), &path);
    Ok(Exit::Done)
}

fn step(
    named: &Named,
    date: Option<Date>,
    consignment: Option<&String>,
    became: Became,
    setting: &Setting<'_>,
) -> Outcome {
    let desk = setting.desk()?;
    let path = place(named, &desk)?;
    let day = setting.around.happened(date)?;
    let done = became.word();
    let request: Request = record::change(
        &desk,
        &path,
        Kind::Request,
        Changes::new(),
        |r: &Request| format!("{}: test panel {} {done}\n", named.project, r.id),
        |r| {
            if consignment.is_some() {
                r.consignment = consignment.cloned();
            }
            *became.date(r) = Some(day);
            in_order(r, became)
        },
    )?;
    setting.done(format!("test panel {} {done} on {day}", request.id));
    if became == Became::Received && request.sent.is_none() {
        setting.printer.line(format!(
            "  nobody recorded when it was sent; if you know: underlit request sent {} {} --date YYYY-MM-DD",
            named.project, request.id
        ));
    }
    setting.wrote(&named.project, Kind::Request, Some(request.id.as_str()), &path);
    Ok(Exit::Done)
}

/// Refuses a day that was changed to lie before what must have happened first, or after what followed.
fn in_order(request: &Request, changed: Became) -> crate::fault::Outcome<()> {
    let steps = [
        (Some(request.asked), "asked for", None),
        (request.sent, "sent", Some(Became::Sent)),
        (request.received, "received", Some(Became::Received)),
        (request.returned, "brought back", Some(Became::Returned)),
        (request.lost, "lost", Some(Became::Lost)),
    ];
    let at = steps.iter().position(|(_, _, became)| *became == Some(changed)).unwrap_or_default();
    let Some(day) = steps[at].0 else { return Ok(()) };
    let before =
        steps[..at].iter().rev().find_map(|(date, what, _)| Some((date.filter(|d| day < *d)?, what)));
    let after = steps[at + 1..].iter().find_map(|(date, what, _)| Some((date.filter(|d| day > *d)?, what)));
    let wrong = match (before, after) {
        (Some((before, what)), _) => format!("{day} is before {before}, when it was {what}"),
        (None, Some((after, what))) => format!("{day} is after {after}, when it was {what}"),
        (None, None) => return Ok(()),
    };
    Err(Box::new(Fault::usage("date-order", wrong).fix("give the right day with --date YYYY-MM-DD")))
}
