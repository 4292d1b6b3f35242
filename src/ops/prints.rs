//! What stands on labels and order sheets, from the records as they are today.
//!
//! Nobody signs a print: the records are what counts, and each print says where they are to be seen.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::outline::unknown_panel;
use super::pack::{installed, release_of};
use super::reading::{Reading, group_of};
use crate::fault::Fault;
use crate::gates::is_released;
use crate::ids::{GroupId, PanelId, ProjectId, RequestId};
use crate::job::Case;
use crate::job::pack::{digest, of_job, words as pack_words};
use crate::model::book::Book;
use crate::model::request::Request;
use crate::model::snapshot::Snapshot;
use crate::pages::job_file;
use crate::sheets::Code;
use crate::sheets::prints::{Label, OrderSheet, Ordered};
use crate::units::trimmed;
use crate::words::{self, LightKind, counted};

/// What is said beside the records.
#[derive(Clone, Debug)]
pub(crate) struct Asked<'a> {
    /// Where the book's pages are to be seen, where it is not what the book says.
    pub(crate) pages: Option<&'a str>,
    /// The day of printing.
    pub(crate) today: Date,
    /// The release group that is meant, for a panel that several take.
    pub(crate) group: Option<&'a GroupId>,
}

impl Asked<'_> {
    fn code(&self, reading: &Reading, file: &str, what: &str) -> Code {
        code(&reading.shop.book, self.pages, file, what)
    }
}

/// What a QR code says, and what stands below it: the page, or the names to look up where the shop has no pages. `pages` is
/// where the book's pages are to be seen, where it is not what the book says.
pub(super) fn code(book: &Book, pages: Option<&str>, file: &str, what: &str) -> Code {
    let (text, caption) = match pages.or(book.pages.as_deref()) {
        Some(address) => (format!("{}/{file}", address.trim_end_matches('/')), "opens its page"),
        None => (format!("underlit {}: {what}", book.id), "says what it is"),
    };
    Code { text, caption: caption.to_owned() }
}

fn foot(reading: &Reading, what: &str, today: Date) -> String {
    format!("{}: {what}. Printed on {today}.", reading.shop.book.id)
}

/// What each panel of a request is, and what tells it from the others: a static light has one colour temperature.
fn kinds(request: &Request) -> Vec<String> {
    let kelvin = |ccts: &[u32]| {
        let figures: Vec<String> = ccts.iter().map(ToString::to_string).collect();
        if figures.is_empty() { String::new() } else { format!("{} K", figures.join(", ")) }
    };
    let lights: Vec<String> = match request.light {
        LightKind::StaticWhite | LightKind::WarmDim => request.ccts_k.iter().map(|k| kelvin(&[*k])).collect(),
        other => vec![format!("{} {}", in_words(other), kelvin(&request.ccts_k)).trim().to_owned()],
    };
    let faces = |light: String| request.faces.iter().map(move |face| format!("{light}, {face} face"));
    lights.into_iter().flat_map(faces).collect()
}

fn in_words(light: LightKind) -> String {
    light.word().replace('-', " ")
}

fn stones(snapshot: &Snapshot, request: &Request) -> String {
    let name = |id| snapshot.swatches.get(id).map_or_else(|| id.to_string(), |s| s.stone.clone());
    request.swatches.iter().map(name).collect::<Vec<_>>().join(", ")
}

fn request_of<'s>(snapshot: &'s Snapshot, id: &RequestId) -> Result<&'s Request, Vec<Fault>> {
    snapshot.requests.get(id).ok_or_else(|| {
        let known = snapshot.requests.keys().map(RequestId::as_str);
        let fix = words::instead_of(id.as_str(), known, "ask for it first: underlit request ask …");
        vec![Fault::usage("unknown-record", format!("there is no test-panel request {id}")).fix(fix)]
    })
}

/// The labels of a request's test panels, one for each.
///
/// # Errors
/// Everything that is wrong with the project; `unknown-record`.
pub(crate) fn test_panel_labels(
    reading: &Reading,
    project: &ProjectId,
    id: &RequestId,
    volts: Option<f64>,
    size_mm: (f64, f64),
    asked: &Asked<'_>,
) -> Result<Vec<Label>, Vec<Fault>> {
    let snapshot = reading.project(project)?;
    let request = request_of(&snapshot, id)?;
    let shop = &reading.shop;
    let what = format!("job {project}, test panel {id}");
    let code = asked.code(reading, &job_file(project.as_str()), &what);
    let each = usize::try_from(request.quantity).unwrap_or(1);
    let panels: Vec<String> =
        kinds(request).into_iter().flat_map(|kind| std::iter::repeat_n(kind, each)).collect();
    let count = panels.len();
    let label = |(at, headline): (usize, String)| {
        let mut facts = vec![
            ("Job", snapshot.project.title.clone()),
            ("For", shop.roster.name_of(&snapshot.project.people.client)),
            ("Stone", stones(&snapshot, request)),
            ("Size", shop.book.units.size([request.width_mm, request.height_mm])),
            ("Voltage", volts.map_or_else(String::new, |v| format!("{} V direct current", trimmed(v, 1)))),
            ("Panel", format!("{} of {count}, request {id}", at + 1)),
            ("Goes to", request.address.clone()),
        ];
        facts.extend(request.needed_by.map(|by| ("Needed by", by.to_string())));
        facts.extend(request.return_by.map(|by| ("Return by", by.to_string())));
        Label {
            size_mm,
            kind: "Test panel".into(),
            shop: shop.book.shop.clone(),
            headline,
            facts: owned(facts),
            steps: Vec::new(),
            cautions: vec![
                "Only with the driver that came with it, never on the mains. Indoors and dry.".into(),
                "Judge it behind your own stone, in the light of the place.".into(),
            ],
            code: code.clone(),
            foot: foot(reading, &what, asked.today),
        }
    };
    Ok(panels.into_iter().enumerate().map(label).collect())
}

fn owned(facts: Vec<(&str, String)>) -> Vec<(String, String)> {
    facts.into_iter().map(|(label, value)| (label.to_owned(), value)).collect()
}

/// The service card label of a panel: what somebody needs years later, when its light fails.
///
/// # Errors
/// Everything that is wrong with the project; `nothing-to-serve` where mount or power is open.
pub(crate) fn service_label(
    reading: &Reading,
    project: &ProjectId,
    id: &PanelId,
    size_mm: (f64, f64),
    asked: &Asked<'_>,
) -> Result<Label, Vec<Fault>> {
    let snapshot = reading.project(project)?;
    let case = reading.case(&snapshot);
    let Some(panel) = snapshot.panels.get(id) else { return Err(vec![unknown_panel(&snapshot, id)]) };
    let part = match panel.groups.as_slice() {
        [one] => case.part(&one.group),
        _ => group_of(&case, asked.group)?,
    };
    let case = part.as_ref().unwrap_or(&case);
    let data = of_job(case, case.job());
    let mut words = pack_words::of_data(&data, case.job());
    let known = words.panels.remove(id.as_str()).unwrap_or_default();
    let Some(service) = known.service else {
        let why =
            if known.open.is_empty() { "its mount is not chosen".into() } else { known.open.join("; ") };
        return Err(vec![
            Fault::usage("nothing-to-serve", format!("how panel {id} is served is not known yet: {why}"))
                .fix(format!("choose its mount and settle its plan: underlit status {project}")),
        ]);
    };
    let released = is_released(case).then(|| release_of(case)).flatten();
    let built_to = digest(&data).short();
    let (state, kind) = match &released {
        Some(release) => {
            let day = release.when.get(..10).unwrap_or(&release.when);
            (format!("{built_to}, released {day} by {}", release.who), "Service card")
        }
        None => (format!("{built_to}, NOT RELEASED"), "Service card – NOT RELEASED"),
    };
    // The card's own first lines stand in the headline here.
    let lines = service.lines.into_iter().map(|[label, value]| (label, value));
    let mut facts: Vec<(String, String)> = vec![("Job".into(), snapshot.project.title.clone())];
    facts.extend(lines.filter(|(label, _)| label != "Project"));
    let serial = snapshot.as_built.iter().flat_map(|built| &built.panels).find(|p| p.id == *id);
    facts.extend(serial.map(|built| {
        let measured =
            format!("{} W at {} V", trimmed(built.measured_w.0, 1), trimmed(built.measured_v.0, 1));
        ("Serial number".to_owned(), format!("{}, measured {measured}", built.serial))
    }));
    let kept = ["Drivers", "Access", "Whom to call", "Warranty", "Spares", "Date"];
    facts.extend(installed(case).into_iter().filter(|(label, _)| kept.contains(&label.as_str())).map(
        |(label, value)| match label.as_str() {
            "Date" => ("Installed".to_owned(), value),
            _ => (label, value),
        },
    ));
    facts.push(("Built to".into(), state));
    let what = format!("job {project}, panel {id}");
    let code = asked.code(reading, &job_file(project.as_str()), &what);
    Ok(Label {
        size_mm,
        kind: kind.into(),
        shop: reading.shop.book.shop.clone(),
        headline: panel.title.clone(),
        facts,
        steps: service.steps,
        cautions: service.cautions,
        code,
        foot: foot(reading, &what, asked.today),
    })
}

/// The operation and maintenance sheet of a job: what its owner needs to use it, keep it and have it repaired.
///
/// # Errors
/// Everything that is wrong with the project; `not-installed` before the installation is recorded.
pub(crate) fn manual(
    reading: &Reading,
    project: &ProjectId,
    size_mm: (f64, f64),
    asked: &Asked<'_>,
) -> Result<Label, Vec<Fault>> {
    let snapshot = reading.project(project)?;
    let case = reading.case(&snapshot);
    if snapshot.installation.is_none() {
        return Err(vec![
            Fault::usage("not-installed", format!("the installation of {project} is not recorded"))
                .fix(format!("record it first: underlit installed {project} …")),
        ]);
    }
    let mut facts: Vec<(String, String)> = Vec::new();
    for (id, panel) in &snapshot.panels {
        let light = panel.light.as_ref().map(|l| match l.cct_k {
            Some(k) => format!("{} {k} K", in_words(l.kind)),
            None => in_words(l.kind),
        });
        let built = snapshot.as_built.iter().flat_map(|b| &b.panels).find(|p| p.id == *id);
        let parts = [
            light,
            panel.voltage_v.map(|v| format!("{v} V direct current")),
            panel.control.as_ref().map(|c| format!("control {c}")),
            panel.mount.map(|m| format!("mount {m}")),
            panel.opening.as_ref().map(|o| format!("opens {}", o.in_words())),
            built.map(|b| format!("serial number {}", b.serial)),
        ];
        let said: Vec<String> = parts.into_iter().flatten().collect();
        facts.push((panel.title.clone(), said.join(", ")));
    }
    facts.extend(installed(&case).into_iter().filter(|(label, _)| label != "Photos"));
    let what = format!("job {project}, operation and maintenance");
    let code = asked.code(reading, &job_file(project.as_str()), &what);
    Ok(Label {
        size_mm,
        kind: "Operation and maintenance".into(),
        shop: reading.shop.book.shop.clone(),
        headline: snapshot.project.title.clone(),
        facts,
        steps: [
            "Before anything is opened, switch the drivers' circuit off and make sure that it stays off.",
            "Where a part stays dark, try its driver and every joint that can be reached first.",
            "Read the serial number to whoever is called: it tells what is behind the stone.",
        ]
        .map(str::to_owned)
        .to_vec(),
        cautions: [
            "Work on the mains side is for a licensed electrician, by the local code.",
            "A part is replaced by one of the same voltage, rating and colour bin.",
            "No water, steam or abrasive reaches joints, drivers or lit edges.",
        ]
        .map(str::to_owned)
        .to_vec(),
        code,
        foot: foot(reading, &what, asked.today),
    })
}

/// The order sheet: every test panel that was asked for and not sent, of the book or of a project, or one request whatever
/// became of it; and the projects that could not be read.
///
/// # Errors
/// Everything that is wrong with a project that was named; `unknown-record`; `nothing-to-order`.
pub(crate) fn order_sheet(
    reading: &Reading,
    project: Option<&ProjectId>,
    one: Option<&RequestId>,
    asked: &Asked<'_>,
) -> Result<(OrderSheet, Vec<ProjectId>), Vec<Fault>> {
    let mut unread = Vec::new();
    let mut snapshots = BTreeMap::new();
    match project {
        Some(id) => {
            snapshots.insert(id.clone(), reading.project(id)?);
        }
        None => {
            for id in reading.book.projects()? {
                match reading.project(&id) {
                    Ok(snapshot) => drop(snapshots.insert(id, snapshot)),
                    Err(_) => unread.push(id),
                }
            }
        }
    }
    let mut open: Vec<(Case<'_>, &Request)> = Vec::new();
    for snapshot in snapshots.values() {
        let wanted = match one {
            Some(id) => vec![request_of(snapshot, id)?],
            None => snapshot
                .requests
                .values()
                .filter(|r| r.sent.is_none() && r.received.is_none() && r.lost.is_none())
                .collect(),
        };
        open.extend(wanted.into_iter().map(|request| (reading.case(snapshot), request)));
    }
    open.sort_by_key(|(case, r)| (r.needed_by.unwrap_or(Date::MAX), r.asked, case.id().to_owned()));
    if open.is_empty() {
        return Err(vec![
            Fault::usage("nothing-to-order", "no test panel that was asked for is still to be sent")
                .fix("ask for one: underlit request ask …; or name the one to print again"),
        ]);
    }
    let panels: usize = open.iter().map(|(_, r)| kinds(r).len() * r.quantity as usize).sum();
    let code = asked.code(reading, "index.html", "test panels to make and send");
    let requests = open.iter().map(|(case, request)| ordered(reading, case, request, asked.today)).collect();
    let sheet = OrderSheet {
        units: reading.shop.book.units,
        shop: reading.shop.book.shop.clone(),
        summary: format!(
            "{}, {}; as of {}",
            counted(open.len(), "request", "requests"),
            counted(panels, "test panel", "test panels"),
            asked.today
        ),
        requests,
        code,
        foot: foot(reading, "test panels to make and send", asked.today),
    };
    Ok((sheet, unread))
}

fn ordered(reading: &Reading, case: &Case<'_>, request: &Request, today: Date) -> Ordered {
    let project = &case.project.project;
    let kinds = kinds(request);
    let count = kinds.len() * request.quantity as usize;
    let of_each =
        if request.quantity == 1 { "one of each".into() } else { format!("{} of each", request.quantity) };
    let due = match request.needed_by {
        None => "no day named".to_owned(),
        Some(by) if by < today && request.sent.is_none() => format!("NEEDED BY {by}, PAST"),
        Some(by) => format!("needed by {by}"),
    };
    let mut facts = vec![
        ("Make", format!("{}, {of_each}: {}", counted(count, "panel", "panels"), kinds.join("; "))),
        ("Size", reading.shop.book.units.size([request.width_mm, request.height_mm])),
        ("Light", in_words(request.light)),
        ("Stone", stones(case.project, request)),
        ("For", format!("{}, {}", reading.shop.roster.name_of(&project.people.client), project.title)),
        ("Send to", request.address.replace('\n', ", ")),
        ("Asked for", request.asked.to_string()),
    ];
    facts.extend(request.return_by.map(|by| ("Return by", by.to_string())));
    facts.extend(request.sent.map(|on| ("Sent", on.to_string())));
    facts.extend(request.note.clone().map(|note| ("Note", note)));
    facts.push(("When sent", format!("underlit request sent {} {} --consignment …", case.id(), request.id)));
    Ordered { headline: format!("{} / {}", case.id(), request.id), due, facts: owned(facts) }
}
