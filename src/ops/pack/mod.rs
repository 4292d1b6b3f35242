//! A job's build pack: one folder with one PDF, its data, drawing sheets, files for the cutter, bill and dates;
//! and the proof that the pack of a released job has the data that its release sealed.
//!
//! Nothing in the pack of a released job depends on the day it is made.

mod folder;
mod prove;
mod sheets;
mod spreadsheet;
mod texts;

use jiff::ToSpan;
use jiff::civil::{Date, DateTime};

pub(crate) use self::folder::FilesCompared;
pub(crate) use self::folder::Place;
pub(crate) use self::prove::Proof;
pub(crate) use self::prove::{prove, prove_case};
use self::sheets::sheet_files;
use self::texts::{bill_csv, bill_json, contents, order_csv, pack_json, readme};

use super::dates::{self, MilestoneDates, RouteDates};
use super::outline::cut_files;
use super::prints;
use super::reading::{Reading, group_of};
use super::status;
use crate::digest::Sha256Digest;
use crate::fault::{Fault, Outcome};
use crate::gates::{approval, evaluate, facts, is_released, refusals};
use crate::ids::{GroupId, ProjectId};
use crate::job::pack::{digest, of_job, order, words};
use crate::job::{Case, as_built};
use crate::model::handover::{AsBuilt, Installation};
use crate::model::roster::Role;
use crate::model::snapshot::SignOff;
use crate::model::stage::Stage;
use crate::model::statement::{Decision, Subject};
use crate::pages::job_file;
use crate::sheets::pack::{DateLine, Heading, PackInput, ReleaseLine, SignOffLine, draw as draw_pages};
use crate::store::{read, write};
use crate::trust::surroundings::Surroundings;
use crate::units::trimmed;
use crate::words::business_days;

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

fn one(fault: impl Into<Fault>) -> Vec<Fault> {
    vec![fault.into()]
}

/// Makes a job's pack.
///
/// # Errors
/// Everything that is wrong with the project, and what keeps a page from being drawn.
pub fn pack(
    reading: &Reading,
    id: &ProjectId,
    group: Option<&GroupId>,
    around: &Surroundings<'_>,
) -> Result<Pack, Vec<Fault>> {
    let snapshot = reading.project(id)?;
    let whole = reading.case(&snapshot);
    let part = group_of(&whole, group)?;
    let case = part.as_ref().unwrap_or(&whole);
    let snapshot = case.project;
    let status = status::of(case, around.today());
    let job = case.job();
    let data = of_job(case, job);
    let sha256 = digest(&data);
    let released = is_released(case);
    let release = released.then(|| release_of(case)).flatten();
    let mut left_out = Vec::new();

    let issued = match &release {
        Some(release) => release.when.get(..10).unwrap_or(&release.when).to_owned(),
        None => around.today().to_string(),
    };
    // After the release dates are counted as from its day, so that the pack is the same whenever it is made, and also
    // when the shop's calendars have come to their end.
    let day = release.as_ref().and_then(|_| issued.parse().ok()).unwrap_or_else(|| around.today());
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    let pages = sheet_files(reading, case, around, &issued, &mut files, &mut left_out).map_err(one)?;
    for panel in snapshot.panels.keys() {
        match cut_files(reading, snapshot, panel) {
            Ok(cut) => files.extend(cut.into_iter().map(|f| (format!("cut/{}", f.name), f.bytes))),
            Err(faults) => left_out.extend(faults.iter().map(|f| format!("cut files of panel {panel}: {f}"))),
        }
    }
    photos(reading, case, &mut files).map_err(one)?;
    files.push(("bill.csv".into(), bill_csv(&data)));
    let order = order::lines(case, job, &data);
    files.push(("order.csv".into(), order_csv(&order)));
    files.push(("bill.json".into(), write::to_bytes(&bill_json(&data)).map_err(one)?));
    let stamp = release.as_ref().and_then(|r| stamp(&r.when)).unwrap_or_else(|| around.now_utc());
    match dates::calendar(case, &reading.chain.fingerprint().short(), day, stamp, None) {
        Ok(text) => files.push(("dates.ics".into(), text.into_bytes())),
        Err(fault) => left_out.push(format!("dates.ics: {fault}")),
    }

    let (date_lines, date_notes) = date_pages(case, day, release.is_some());
    let mut missing: Vec<String> = Vec::new();
    if !released {
        missing.extend(evaluate(case, Stage::Released).missing().map(|f| f.what.clone()));
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
            when: s.at.clone(),
            standing: s.standing.word().replace('-', " "),
            sha256: s.sha256.clone(),
        })
        .collect();
    sign_offs.sort_by(|a, b| (&a.when, &a.sha256).cmp(&(&b.when, &b.sha256)));
    let input = PackInput {
        data: &data,
        words: words::of_data(&data, job),
        sha256: sha256.hex(),
        code: prints::code(&reading.shop.book, None, &job_file(id.as_str()), &format!("job {id}")),
        heading: heading(case, &issued, snapshot.standing().stage),
        release: release.clone(),
        missing,
        overridden: refusals::overridden(case),
        sign_offs: sign_offs.clone(),
        dates: date_lines,
        date_notes,
        built: as_built::compare(case, job).iter().map(as_built::Comparison::in_words).collect(),
        installed: installed(case),
        order,
        files: contents(&files),
        units: reading.shop.book.units,
        sheets: pages,
    };
    let drawn = draw_pages(&input).map_err(|e| vec![Fault::data(e.code(), e.to_string()).fix(e.remedy())])?;
    let record = pack_json(&input, &data, &files, release.as_ref());
    files.push(("pack.json".into(), write::to_bytes(&record).map_err(one)?));
    files.push(("pack.pdf".into(), drawn.pdf));
    files.push(("README.txt".into(), readme(&input).into_bytes()));
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

/// The release of a job, or of the release group that a case is of.
fn release_subject(case: &Case<'_>) -> Subject {
    Subject { group: case.group.clone(), ..Subject::release() }
}

/// The standing approvals of the release as the job is now.
fn releases<'a>(case: &Case<'a>) -> Vec<&'a SignOff> {
    let subject = release_subject(case);
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

pub(crate) fn release_of(case: &Case<'_>) -> Option<ReleaseLine> {
    let now = facts::of(case, &release_subject(case));
    let fitting: Vec<&SignOff> = releases(case).into_iter().filter(|s| s.statement.facts == now).collect();
    let last = fitting.last()?;
    let who = fitting
        .iter()
        .map(|s| format!("{} ({})", case.speaker(s), s.statement.role))
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
        ("Stone mason", Role::StoneMason),
        ("Electrician", Role::Electrician),
        ("Approvers", Role::Approver),
    ] {
        let names: Vec<String> = case.people_for(&[role]).iter().map(|p| roster.name_of(p)).collect();
        if !names.is_empty() {
            people.push((word.to_owned(), names.join(" or ")));
        }
    }
    Heading {
        shop: case.shop.book.shop.clone(),
        title: match &case.group {
            Some(group) => format!("{}, release group {group}", project.title),
            None => project.title.clone(),
        },
        client: roster.name_of(&project.people.client),
        people,
        install_date: case.install_in_words(),
        stage: stage.to_string(),
        date_of_issue: issued.to_owned(),
        panel_titles: case.panels().map(|(id, p)| (id.to_string(), p.title.clone())).collect(),
    }
}

/// The installation as it is recorded, label and value.
pub(crate) fn installed(case: &Case<'_>) -> Vec<(String, String)> {
    let Some(installation) = &case.project.installation else { return Vec::new() };
    let mut lines = vec![
        ("Date", installation.date.to_string()),
        ("Installed by", case.shop.roster.name_of(&installation.by)),
        ("Mains side by", installation.electrician.clone()),
        ("Tested to", installation.electrical_code.clone()),
        ("Drivers", installation.driver_access.clone()),
    ];
    if let Some(card) = &installation.service_card {
        lines.push(("Service card", card.kept_at.clone()));
        lines.push(("Access", card.access.clone()));
        lines.push(("Whom to call", card.contact.clone()));
        if let Some(months) = card.warranty_months {
            lines.push(("Warranty", warranty(installation, months)));
        }
        lines.extend(card.spares.clone().map(|spares| ("Spares", spares)));
        lines.extend(card.upkeep.clone().map(|upkeep| ("Upkeep", upkeep)));
    }
    if let Some(seen) = &installation.acceptance {
        let flicker = seen.flicker_seen.as_deref().unwrap_or("none seen");
        lines.push((
            "Taken over",
            format!("{}; flicker looked for {}: {flicker}", seen.date, seen.flicker_looked_for),
        ));
        lines.extend(seen.lowest_dim_pct.map(|pct| ("Dimmed down to", format!("{} %", trimmed(pct, 1)))));
        lines.extend((!seen.remaining.is_empty()).then(|| ("Still to be done", seen.remaining.join("; "))));
    }
    if !installation.photos.is_empty() {
        let names: Vec<String> = installation.photos.iter().map(|p| p.file.to_string()).collect();
        lines.push(("Photos", format!("in photos/: {}", names.join(", "))));
    }
    lines.into_iter().map(|(label, value)| (label.to_owned(), value)).collect()
}

/// How long the shop makes good, with the last day: counted from the taking over, else from the installation.
fn warranty(installation: &Installation, months: u32) -> String {
    let from = installation.acceptance.as_ref().map_or(installation.date, |seen| seen.date);
    let months_in_words = crate::words::counted(months as usize, "month", "months");
    match from.checked_add(i64::from(months).months()) {
        Ok(last) => format!("{months_in_words} from {from}, to {last}"),
        Err(_) => format!("{months_in_words} from {from}"),
    }
}

/// The photos of what was built and how it was put in: those that the records name, and no others.
fn photos(reading: &Reading, case: &Case<'_>, files: &mut Vec<(String, Vec<u8>)>) -> Outcome<()> {
    let built = case.project.as_built.iter().flat_map(AsBuilt::photos);
    let installed = case.project.installation.iter().flat_map(Installation::attachments);
    let folder = format!("projects/{}/handover", case.id());
    for photo in built.chain(installed) {
        let again =
            "record it again with the right photo: underlit built, installed, delivery received or accepted";
        let bytes = read::attached(&reading.book, &folder, photo, again)?;
        files.push((format!("photos/{}", photo.file), bytes));
    }
    Ok(())
}

/// The dates as the pack shows them, of each part that has an install date of its own. After the release only the latest dates
/// stand there, so that a pack made another day is the same.
fn date_pages(case: &Case<'_>, today: Date, released: bool) -> (Vec<DateLine>, Vec<String>) {
    let (mut lines, mut routes, mut notes) = (Vec::new(), Vec::new(), Vec::new());
    notes.push(
        "Counted in the shop's business days; holidays and allowances stand in shop/calendar.json."
            .to_owned(),
    );
    notes.push("Dates move without changing what is built: they are no part of the sealed data.".to_owned());
    for part in case.by_install_day() {
        let whose = part.group.as_ref().filter(|_| case.group.is_none());
        let whose = whose.map_or_else(String::new, |group| format!("{group}: "));
        match dates::by_route(&part, today, false) {
            Ok(found) => {
                let Some(route) = found.first() else { continue };
                lines.extend(date_lines(&part, route, released, &whose));
                routes.push(format!(
                    "{whose}Latest dates by route {} ({}), the longest of those the panels take.",
                    route.name, route.route
                ));
                notes.extend(date_notes(route, released).into_iter().map(|note| format!("{whose}{note}")));
            }
            Err(fault) => {
                let fix = fault.remedy.as_deref().unwrap_or("underlit check");
                notes.push(format!("{whose}{}; {fix}", fault.message));
            }
        }
    }
    routes.extend(notes);
    (lines, routes)
}

fn date_lines(part: &Case<'_>, route: &RouteDates, released: bool, whose: &str) -> Vec<DateLine> {
    let day = |d: Option<Date>| d.map_or_else(|| "–".to_owned(), |d| d.to_string());
    let spare = |days: Option<i64>| days.map_or_else(|| "–".to_owned(), |days| days.to_string());
    let step = |m: &MilestoneDates| DateLine {
        what: format!("{whose}{}", m.to_do),
        latest: day(m.latest),
        earliest: match (released, m.reached) {
            (true, _) => String::new(),
            (false, true) => "done".into(),
            (false, false) => day(m.earliest),
        },
        spare: spare(m.slack_business_days),
    };
    let mut lines: Vec<DateLine> = route.milestones.iter().map(step).collect();
    lines.push(DateLine {
        what: format!("{whose}install"),
        latest: day(part.project.project.install_date),
        earliest: if released { String::new() } else { day(route.earliest_install) },
        spare: spare(route.slack_business_days),
    });
    lines
}

fn date_notes(route: &RouteDates, released: bool) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(route.order_material_by.map(|order| format!("The material must be ordered by {order}.")));
    if !released {
        notes.extend(route.fault.clone());
        let slack = route.slack_business_days.filter(|s| *s < 0);
        notes.extend(
            slack.map(|slack| format!("THE INSTALL DATE CANNOT BE MET: {} short.", business_days(slack))),
        );
    }
    notes
}
