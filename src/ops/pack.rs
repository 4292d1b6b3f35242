//! A job's build pack: one folder with one PDF, its data, drawing sheets, files for the cutter, bill and dates;
//! and the proof that the pack of a released job has the data that its release sealed.
//!
//! Nothing in the pack of a released job depends on the day it is made.

use std::path::Path;

use jiff::civil::DateTime;
use serde::Serialize;
use serde_json::{Value, json};

use super::dates::{self, RouteDates};
use super::desk::Reading;
use super::outline::cut_files;
use super::status;
use super::surroundings::Surroundings;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::pack::{PackData, canonical, digest, of_job, words};
use crate::gates::{Case, approval, as_built, evaluate, facts, is_released};
use crate::model::id::{PanelId, ProjectId};
use crate::model::roster::Role;
use crate::model::snapshot::{SignOff, Snapshot};
use crate::model::stage::Stage;
use crate::model::statement::{Decision, Fact, Subject};
use crate::model::view::{Change, changes};
use crate::sheets::pack::{
    DateLine, Heading, PackInput, ReleaseLine, SheetPage, SignOffLine, draw as draw_pages,
};
use crate::sheets::{self, SheetInput, drawn_with};
use crate::store::{safe_path, strict_json, write};

/// A pack, ready to be written.
#[derive(Clone, Debug)]
pub struct Pack {
    /// Its files by their paths within the folder, in order.
    pub files: Vec<(String, Vec<u8>)>,
    /// The digest of its data.
    pub sha256: Sha256Digest,
    /// True where the job is released as it is now.
    pub released: bool,
    /// What could not be put in, with the reason.
    pub left_out: Vec<String>,
}

/// What the release sealed of the pack's data, and what they are now.
#[derive(Clone, Debug, Serialize)]
pub struct Proof {
    /// The project.
    pub project: ProjectId,
    /// True where a standing release sealed the very data that the book gives now.
    pub proven: bool,
    /// True where the job may be built: released, and every gate up to there holds.
    pub released: bool,
    /// Who released it, in which role, and when, as the statement says.
    pub release: Option<String>,
    /// The digest that the release sealed; none where nobody released the job.
    pub sealed_sha256: Option<String>,
    /// The digest of the data as the book gives them now.
    pub now_sha256: String,
    /// Every sealed fact that differs, from what to what.
    pub changes: Vec<Change>,
    /// The same for the data of a pack that was handed in: its own digest, and every figure that differs.
    pub pack: Option<PackChecked>,
}

/// A pack that was handed in, held against the book.
#[derive(Clone, Debug, Serialize)]
pub struct PackChecked {
    /// The digest of the data in it, computed anew.
    pub sha256: String,
    /// True where it is the digest that the pack states.
    pub states_its_own: bool,
    /// True where it is the digest that the release sealed.
    pub is_sealed: bool,
    /// Every figure that differs from the book's, as it stands in the pack and as it is now.
    pub changes: Vec<Change>,
}

fn one(fault: impl Into<Fault>) -> Vec<Fault> {
    vec![fault.into()]
}

/// Makes a job's pack.
///
/// # Errors
/// Everything that is wrong with the project, and what keeps a page from being drawn.
pub fn pack(reading: &Reading, id: &ProjectId, around: &Surroundings<'_>) -> Result<Pack, Vec<Fault>> {
    let (snapshot, status) = status::with_snapshot(reading, id, around)?;
    let case = reading.case(&snapshot);
    let job = case.job();
    let data = of_job(&case, job);
    let sha256 = digest(&data);
    let released = is_released(&case);
    let release = released.then(|| release_of(&case)).flatten();
    let mut left_out = Vec::new();

    let issued = match &release {
        Some(release) => release.when.get(..10).unwrap_or(&release.when).to_owned(),
        None => around.today().to_string(),
    };
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    let pages = sheet_files(reading, &case, around, &issued, &mut files, &mut left_out).map_err(one)?;
    for panel in snapshot.panels.keys() {
        match cut_files(reading, id, panel) {
            Ok(cut) => files.extend(cut.into_iter().map(|f| (format!("cut/{}", f.name), f.bytes))),
            Err(faults) => left_out.extend(faults.iter().map(|f| format!("cut files of panel {panel}: {f}"))),
        }
    }
    files.push(("bill.csv".into(), bill_csv(&data).map_err(one)?));
    files.push(("bill.json".into(), write::to_bytes(&bill_json(&data)).map_err(one)?));
    let stamp = release.as_ref().and_then(|r| stamp(&r.when)).unwrap_or_else(|| around.now_utc());
    match dates::calendar(&case, &reading.chain.fingerprint().short(), around.today(), stamp) {
        Ok(text) => files.push(("dates.ics".into(), text.into_bytes())),
        Err(fault) => left_out.push(format!("dates.ics: {fault}")),
    }

    let dated = dates::by_route(&case, around.today(), false);
    let (date_lines, date_notes) = date_pages(&case, &dated, release.is_some());
    let mut missing: Vec<String> = Vec::new();
    if !released {
        missing.extend(evaluate(&case, Stage::Released).missing().map(|f| f.what.clone()));
        if missing.is_empty() {
            missing.push(format!("the job has not been moved to released: underlit advance {id}"));
        }
    }
    let mut sign_offs: Vec<SignOffLine> = status
        .signoffs
        .iter()
        .map(|s| SignOffLine {
            about: s.about.clone(),
            who: s.who.clone(),
            role: s.role.to_string(),
            decision: s.decision.to_string(),
            kind: s.kind.clone(),
            when: s.time.clone(),
            standing: s.standing.to_owned(),
            sha256: s.sha256.clone(),
        })
        .collect();
    sign_offs.sort_by(|a, b| (&a.when, &a.sha256).cmp(&(&b.when, &b.sha256)));
    let input = PackInput {
        data: &data,
        words: words::of_data(&data, job),
        sha256: sha256.hex(),
        heading: heading(&case, &issued, snapshot.standing().stage),
        release: release.clone(),
        missing,
        sign_offs: sign_offs.clone(),
        dates: date_lines,
        date_notes,
        built: as_built::compare(&case, job).iter().map(as_built::Comparison::in_words).collect(),
        files: contents(&files),
        units: reading.shop.book.units,
        sheets: pages,
    };
    let drawn =
        draw_pages(&input).map_err(|e| vec![Fault::data(e.code(), e.to_string()).mend(e.remedy())])?;
    let record = pack_json(&input, &data, &files, release.as_ref());
    files.push(("pack.json".into(), write::to_bytes(&record).map_err(one)?));
    files.push(("pack.pdf".into(), drawn.pdf));
    files.sort_by(|a, b| a.0.cmp(&b.0));
    let sums: String =
        files.iter().map(|(path, bytes)| format!("{}  {path}\n", Sha256Digest::of(bytes))).collect();
    files.push(("SHA256SUMS".into(), sums.into_bytes()));
    Ok(Pack { files, sha256, released, left_out })
}

/// A statement's time as a calendar file carries it.
fn stamp(when: &str) -> Option<DateTime> {
    let moment: jiff::Timestamp = when.parse().ok()?;
    Some(jiff::tz::TimeZone::UTC.to_datetime(moment))
}

/// The standing approvals of the release as the job is now.
fn releases<'a>(case: &Case<'a>) -> Vec<&'a SignOff> {
    let subject = Subject::release();
    let mut all: Vec<&SignOff> = case
        .shop
        .rules
        .needed(&subject)
        .flat_map(|rule| approval::standing(case, &subject, rule.role))
        .filter(|s| matches!(s.statement.decision, Decision::Approved | Decision::ApprovedAsNoted))
        .collect();
    all.sort_by(|a, b| (&a.statement.time, a.digest).cmp(&(&b.statement.time, b.digest)));
    all.dedup_by_key(|s| s.digest);
    all
}

fn release_of(case: &Case<'_>) -> Option<ReleaseLine> {
    let now = facts::of(case, &Subject::release());
    let fitting: Vec<&SignOff> = releases(case).into_iter().filter(|s| s.statement.facts == now).collect();
    let last = fitting.last()?;
    let who = fitting
        .iter()
        .map(|s| format!("{} ({})", case.shop.roster.name_of(s.statement.speaker()), s.statement.role))
        .collect::<Vec<_>>()
        .join(" and ");
    Some(ReleaseLine { who, when: last.statement.time.clone(), sha256: last.digest.hex() })
}

fn heading(case: &Case<'_>, issued: &str, stage: Stage) -> Heading {
    let project = &case.project.project;
    let roster = &case.shop.roster;
    let mut people = vec![("Client".to_owned(), roster.name_of(&project.people.client))];
    for (word, role) in [
        ("Rep", Role::Rep),
        ("Designer", Role::Designer),
        ("Engineer", Role::Engineer),
        ("Fabricator", Role::Fabricator),
        ("Installer", Role::Installer),
    ] {
        let names: Vec<String> = case.people_for(&[role]).iter().map(|p| roster.name_of(p)).collect();
        if !names.is_empty() {
            people.push((word.to_owned(), names.join(" or ")));
        }
    }
    Heading {
        shop: case.shop.book.shop.clone(),
        title: project.title.clone(),
        client: roster.name_of(&project.people.client),
        people,
        install_date: project.install_date.map_or_else(|| "not set".into(), |day| day.to_string()),
        stage: stage.to_string(),
        date_of_issue: issued.to_owned(),
        panel_titles: case.panels().map(|(id, p)| (id.to_string(), p.title.clone())).collect(),
    }
}

/// The drawing sheets: those that were drawn and are filed, as they are; for a panel without one, a sheet for
/// information. Returns them as pages.
fn sheet_files(
    reading: &Reading,
    case: &Case<'_>,
    around: &Surroundings<'_>,
    issued: &str,
    files: &mut Vec<(String, Vec<u8>)>,
    left_out: &mut Vec<String>,
) -> Outcome<Vec<SheetPage>> {
    let mut pages = Vec::new();
    for (id, panel) in case.panels() {
        let Some(drawing) = case.project.drawing_of(id) else {
            left_out.push(format!("sheet of panel {id}: its outline cannot be read"));
            continue;
        };
        let filed = case.project.renderings.get(id).filter(|r| {
            r.outline_sha256 == drawing.digest && r.shows_sha256 == facts::shown_on_sheet(case, panel)
        });
        if filed.is_some() {
            pages.append(&mut filed_sheets(reading, case, id, files)?);
            continue;
        }
        if case.project.renderings.contains_key(id) {
            let draw = format!("underlit draw {} {id}", case.id());
            left_out
                .push(format!("drawn sheet of panel {id}: it shows an earlier state; draw it again: {draw}"));
        }
        let input = match super::draw::input(case, id, panel, drawing, 0, &drawn_with(), around) {
            Ok(input) => input,
            Err(fault) => {
                left_out.push(format!("sheet of panel {id}: {}", fault.message));
                continue;
            }
        };
        let sheet = sheets::draw(&SheetInput {
            date_of_issue: issued.to_owned(),
            approvals: Vec::new(),
            revision: String::new(),
            document_type: "Panel sheet".into(),
            status: "For information".into(),
            ..input
        })
        .map_err(|e| Box::new(Fault::data(e.code(), e.to_string()).mend(e.remedy())))?;
        let size_mm = (sheet.page.area().width(), sheet.page.area().height());
        for (at, svg) in std::iter::once(&sheet.svg).chain(&sheet.further_svgs).enumerate() {
            files.push((sheet_name(id, at, "svg"), svg.clone().into_bytes()));
            pages.push(SheetPage { svg: svg.clone(), size_mm });
        }
        files.push((sheet_name(id, 0, "pdf"), sheet.pdf));
    }
    Ok(pages)
}

fn sheet_name(id: &PanelId, at: usize, ending: &str) -> String {
    if at == 0 { format!("sheets/{id}.{ending}") } else { format!("sheets/{id}-{}.{ending}", at + 1) }
}

fn filed_sheets(
    reading: &Reading,
    case: &Case<'_>,
    id: &PanelId,
    files: &mut Vec<(String, Vec<u8>)>,
) -> Outcome<Vec<SheetPage>> {
    let folder = format!("projects/{}/renderings/{id}", case.id());
    let read = |name: &str| {
        safe_path::read_plain(reading.book.root(), &format!("{folder}/{name}"), safe_path::LARGEST_ATTACHMENT)
    };
    let names = reading.book.names(&folder)?;
    let mut pages = Vec::new();
    for at in 0..names.len() {
        let name = if at == 0 { "sheet.svg".to_owned() } else { format!("sheet-{}.svg", at + 1) };
        if !names.contains(&name) {
            break;
        }
        let bytes = read(&name)?;
        let svg = String::from_utf8_lossy(&bytes).into_owned();
        if let Some(size_mm) = svg_size_mm(&svg) {
            pages.push(SheetPage { svg, size_mm });
        }
        files.push((sheet_name(id, at, "svg"), bytes));
    }
    files.push((sheet_name(id, 0, "pdf"), read("sheet.pdf")?));
    Ok(pages)
}

/// The size that one of our own sheets states at its head.
fn svg_size_mm(svg: &str) -> Option<(f64, f64)> {
    let head = &svg[svg.find("<svg")?..];
    let head = &head[..head.find('>')?];
    let side = |name: &str| {
        let from = head.find(&format!(" {name}=\""))? + name.len() + 3;
        let rest = &head[from..];
        rest[..rest.find("mm\"")?].parse::<f64>().ok()
    };
    Some((side("width")?, side("height")?))
}

/// The folder's parts with what they are; pack.json lists every file with its digest.
fn contents(files: &[(String, Vec<u8>)]) -> Vec<(String, String)> {
    let parts = [
        ("pack.json", "every figure of this pack, whole numbers and text, and its digest"),
        ("sheets/", "drawing sheet of each panel, as PDF and SVG"),
        ("cut/", "outline for the cutter, piece by piece, in millimetres, as DXF and SVG"),
        ("bill.csv", "bill of materials for a spreadsheet; bill.json for a program"),
        ("dates.ics", "the dates for a calendar program"),
        ("SHA256SUMS", "digests of all files: sha256sum -c SHA256SUMS"),
    ];
    let always = ["pack.json", "SHA256SUMS"];
    parts
        .iter()
        .filter(|(part, _)| always.contains(part) || files.iter().any(|(path, _)| path.starts_with(part)))
        .map(|(part, what)| ((*part).to_owned(), (*what).to_owned()))
        .collect()
}

fn bill_csv(data: &PackData) -> Outcome<Vec<u8>> {
    let unwritable =
        |e: csv::Error| Box::new(Fault::data("bill", format!("the bill cannot be written: {e}")));
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record(["what", "id", "name", "quantity", "unit"]).map_err(unwritable)?;
    for line in &data.bill {
        let quantity = crate::units::trimmed(line.quantity_thousandths as f64 / 1000.0, 3);
        // A spreadsheet would run a name that begins like a formula.
        let name = match line.item.name.starts_with(['=', '+', '-', '@']) {
            true => format!("'{}", line.item.name),
            false => line.item.name.clone(),
        };
        csv.write_record([&line.what, &line.item.id, &name, &quantity, &line.unit]).map_err(unwritable)?;
    }
    csv.into_inner().map_err(|e| Box::new(Fault::data("bill", format!("the bill cannot be written: {e}"))))
}

fn bill_json(data: &PackData) -> Value {
    json!({ "project": data.project, "bill": data.bill })
}

fn pack_json(
    input: &PackInput<'_>,
    data: &PackData,
    files: &[(String, Vec<u8>)],
    release: Option<&ReleaseLine>,
) -> Value {
    let heading = &input.heading;
    json!({
        "sha256": input.sha256,
        "released": release.is_some(),
        "release": release.map(|r| json!({ "who": r.who, "when": r.when, "sha256": r.sha256 })),
        "missing": input.missing,
        "title": heading.title,
        "client": heading.client,
        "install_date": heading.install_date,
        "stage": heading.stage,
        "date_of_issue": heading.date_of_issue,
        "people": heading.people.iter().map(|(role, name)| json!({ "role": role, "name": name })).collect::<Vec<_>>(),
        "sign_offs": input.sign_offs.iter().map(|s| json!({
            "about": s.about, "who": s.who, "role": s.role, "decision": s.decision, "kind": s.kind,
            "when": s.when, "standing": s.standing, "sha256": s.sha256,
        })).collect::<Vec<_>>(),
        "dates": input.dates.iter().map(|d| json!({ "step": d.what, "latest": d.latest })).collect::<Vec<_>>(),
        "as_built": input.built,
        "files": files.iter().map(|(path, bytes)| json!({ "path": path, "sha256": Sha256Digest::of(bytes).hex() })).collect::<Vec<_>>(),
        "drawn_with": drawn_with(),
        "words": canonical::value(&input.words),
        "data": canonical::value(data),
    })
}

/// The dates as the pack shows them. After the release only the latest dates stand there, so that a pack made
/// another day is the same.
fn date_pages(
    case: &Case<'_>,
    dated: &Outcome<Vec<RouteDates>>,
    released: bool,
) -> (Vec<DateLine>, Vec<String>) {
    let mut notes = vec![
        "Counted in the shop's business days; holidays and allowances stand in shop/calendar.json."
            .to_owned(),
        "Dates move without changing what is built: they are no part of the sealed data.".to_owned(),
    ];
    let route = match dated {
        Ok(routes) => match routes.first() {
            Some(route) => route,
            None => return (Vec::new(), notes),
        },
        Err(fault) => {
            notes.push(format!("{}; {}", fault.message, fault.remedy.as_deref().unwrap_or("underlit check")));
            return (Vec::new(), notes);
        }
    };
    let day = |d: Option<jiff::civil::Date>| d.map_or_else(|| "–".to_owned(), |d| d.to_string());
    let mut lines: Vec<DateLine> = route
        .milestones
        .iter()
        .map(|m| DateLine {
            what: m.to_do.to_owned(),
            latest: day(m.latest),
            earliest: match (released, m.reached) {
                (true, _) => String::new(),
                (false, true) => "done".into(),
                (false, false) => day(m.earliest),
            },
            spare: m.slack_business_days.map_or_else(|| "–".to_owned(), |s| s.to_string()),
        })
        .collect();
    let install = case.project.project.install_date;
    lines.push(DateLine {
        what: "install".into(),
        latest: day(install),
        earliest: if released { String::new() } else { day(route.earliest_install) },
        spare: route.slack_business_days.map_or_else(|| "–".to_owned(), |s| s.to_string()),
    });
    notes.insert(
        0,
        format!(
            "Latest dates by route {} ({}), the longest of those the panels take.",
            route.name, route.route
        ),
    );
    if let Some(order) = route.order_material_by {
        notes.push(format!("The material must be ordered by {order}."));
    }
    if !released {
        notes.extend(route.fault.clone());
        if let Some(slack) = route.slack_business_days.filter(|s| *s < 0) {
            notes.push(format!("THE INSTALL DATE CANNOT BE MET: {} business days short.", -slack));
        }
    }
    (lines, notes)
}

/// Makes the data of a job's pack again and holds them against what its release sealed, and a pack that is
/// handed in against both.
///
/// # Errors
/// Everything that is wrong with the project; `not-a-pack` for a file that is none.
pub fn prove(reading: &Reading, id: &ProjectId, handed_in: Option<&Path>) -> Result<Proof, Vec<Fault>> {
    let snapshot: Snapshot = reading.project(id)?;
    let case = reading.case(&snapshot);
    let data = of_job(&case, case.job());
    let now = digest(&data).hex();
    let now_facts = facts::of(&case, &Subject::release());
    let all = releases(&case);
    let release = all.iter().rev().find(|s| s.statement.facts == now_facts).or_else(|| all.last()).copied();
    let sealed = release.and_then(|s| match s.statement.facts.get(facts::PACK_SHA256) {
        Some(Fact::Text(digest)) => Some(digest.clone()),
        _ => None,
    });
    let released = is_released(&case);
    let changed = release.map(|s| changes(&s.statement.facts, &now_facts)).unwrap_or_default();
    let pack = handed_in.map(|file| check_pack(file, &data, sealed.as_deref())).transpose().map_err(one)?;
    let same = sealed.as_ref() == Some(&now);
    Ok(Proof {
        project: id.clone(),
        proven: same && released && pack.as_ref().is_none_or(|p| p.is_sealed && p.states_its_own),
        released,
        release: release.map(|s| {
            format!(
                "{} ({}), {}",
                reading.shop.roster.name_of(s.statement.speaker()),
                s.statement.role,
                s.statement.time
            )
        }),
        sealed_sha256: sealed,
        now_sha256: now,
        changes: changed,
        pack,
    })
}

fn check_pack(file: &Path, now: &PackData, sealed: Option<&str>) -> Outcome<PackChecked> {
    let name = file.display().to_string();
    let no_pack = |why: String| {
        Box::new(
            Fault::data("not-a-pack", why)
                .in_file(&name)
                .mend("name the pack.json of a pack that `underlit pack` made"),
        )
    };
    let bytes = std::fs::read(file).map_err(|e| Box::new(safe_path::io_fault(&name, "read", &e)))?;
    let value = strict_json::parse(&bytes).map_err(|e| no_pack(format!("it is no JSON: {e}")))?;
    let data = value.get("data").ok_or_else(|| no_pack("it holds no data".into()))?;
    let sha256 = Sha256Digest::of(canonical::text(data).as_bytes()).hex();
    Ok(PackChecked {
        states_its_own: value.get("sha256").and_then(Value::as_str) == Some(sha256.as_str()),
        is_sealed: sealed == Some(sha256.as_str()),
        changes: changes(&canonical::facts(data), &canonical::facts(&canonical::value(now))),
        sha256,
    })
}
