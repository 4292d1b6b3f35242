//! `open` and `project change`: a project's own record.

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId, StockId};
use crate::model::kind::Kind;
use crate::model::project::{Approver, GroupDate, JobDates, OrderedAhead, Project};
use crate::ops::dates::dates;
use crate::ops::reading::group_of;
use crate::ops::record;
use crate::power::vocabulary::CodeRegion;
use crate::store::Changes;
use crate::units::{Lux, Volts};
use crate::words::business_days;

/// An approver, as a person and what they stand for.
fn approver(text: &str) -> Result<Approver, String> {
    let (person, stands_for) =
        text.split_once(':').ok_or("write the person, a colon and what they stand for")?;
    let person = person.trim().parse().map_err(|e| format!("{e}"))?;
    let stands_for = stands_for.trim().to_owned();
    if stands_for.is_empty() {
        Err("say what they stand for, like \"ines: architect\"".into())
    } else {
        Ok(Approver { person, stands_for })
    }
}

/// A release group and its day.
fn group_date(text: &str) -> Result<GroupDate, String> {
    let (group, day) =
        text.split_once('=').ok_or("write the group, = and the date, like level-5=2027-02-01")?;
    let group = group.trim().parse().map_err(|e| format!("{e}"))?;
    Ok(GroupDate { group, install_date: super::value::date(day.trim())? })
}

/// What can be said of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Fields {
    /// What people call it.
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// Who approves for the client, by name on the roster.
    #[arg(long, value_name = "PERSON")]
    client: Option<PersonId>,
    /// Who looks after the job; by default you.
    #[arg(long, value_name = "PERSON")]
    rep: Option<PersonId>,
    /// Who draws it.
    #[arg(long, value_name = "PERSON")]
    designer: Option<PersonId>,
    /// Who releases it.
    #[arg(long, value_name = "PERSON")]
    engineer: Option<PersonId>,
    /// Who builds it.
    #[arg(long, value_name = "PERSON")]
    fabricator: Option<PersonId>,
    /// Who installs it.
    #[arg(long, value_name = "PERSON")]
    installer: Option<PersonId>,
    /// Who templates, cuts and sets the stone.
    #[arg(long, value_name = "PERSON")]
    stone_mason: Option<PersonId>,
    /// Who connects and tests the mains side.
    #[arg(long, value_name = "PERSON")]
    electrician: Option<PersonId>,
    /// Who approves beside the client, as "PERSON: architect"; once for each. Given again, the list is another.
    #[arg(long, value_name = "PERSON: TEXT", value_parser = approver)]
    approver: Vec<Approver>,
    /// What the place is called.
    #[arg(long, value_name = "TEXT")]
    site: Option<String>,
    /// Where the place is.
    #[arg(long, value_name = "TEXT")]
    address: Option<String>,
    /// The electrical code and edition that govern there, as the licensed person names them.
    #[arg(long, value_name = "TEXT")]
    electrical_code: Option<String>,
    /// The family of electrical codes that governs there: nec, iec (national rules after IEC 60364) or other.
    #[arg(long, value_name = "REGION")]
    code_region: Option<CodeRegion>,
    /// The mains voltage that the drivers are fed with there, in volts.
    #[arg(long, value_name = "VOLTS", value_parser = super::value::volts::<f64>)]
    mains: Option<f64>,
    /// The light in the room around the stone, in lux.
    #[arg(long, value_name = "LUX", value_parser = super::value::lux::<f64>)]
    ambient_lx: Option<f64>,
    /// The share of that light that the surroundings throw back, 0 to 1.
    #[arg(long, value_name = "SHARE", value_parser = super::value::share)]
    surround_reflectance: Option<f64>,
    /// The day the panels are to be installed, YYYY-MM-DD.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    install_date: Option<Date>,
    /// Built in the time that its route takes for a rush.
    #[arg(long)]
    rush: bool,
    /// Built in the usual time after all.
    #[arg(long, conflicts_with = "rush")]
    no_rush: bool,
    /// How the panels travel, from the shop's list of freights; "usual" for the route's own way.
    #[arg(long, value_name = "FREIGHT")]
    freight: Option<StockId>,
    /// The day on which the stone is templated at the place.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    template: Option<Date>,
    /// The last day for which the slab is held.
    #[arg(long, value_name = "DATE", value_parser = super::value::date)]
    slab_hold_until: Option<Date>,
    /// The day on which a release group is to be installed where it is not the job's, as GROUP=DATE; once for each.
    #[arg(long, value_name = "GROUP=DATE", value_parser = group_date)]
    group_install: Vec<GroupDate>,
    /// Something that was ordered today, before its drawing is approved: a risk that the client acknowledges.
    #[arg(long, value_name = "TEXT")]
    ordered_ahead: Vec<String>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Open a project.
///
/// Example: underlit open quay-bar --title "Quay bar front" --client tove --site "Quay bar" --install-date 2027-03-15
#[derive(Debug, clap::Args)]
pub(crate) struct OpenArgs {
    /// The project's short name: lower-case letters, digits and hyphens.
    project: ProjectId,
    #[command(flatten)]
    fields: Fields,
}

/// A project's own record.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum ProjectVerb {
    /// Change what is said of a project: people, site, dates.
    ///
    /// Example: underlit project change quay-bar --install-date 2027-03-22
    Change(OpenArgs),
}

pub(crate) fn open(args: &OpenArgs, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let fields = &args.fields;
    // The command line requires these of a new project.
    let (Some(title), Some(client), Some(site)) = (&fields.title, &fields.client, &fields.site) else {
        return Err(vec![Fault::usage(
            "missing-argument",
            "a new project needs --title, --client and --site",
        )]);
    };
    let rep = match &fields.rep {
        Some(rep) => rep.clone(),
        None => desk.me()?,
    };
    let today = setting.around.today();
    let mut project = Project::of(args.project.clone(), title, client.clone(), rep, site, today);
    apply(fields, &mut project, today);
    known_people(&desk, &project)?;
    known_freight(&desk, fields)?;
    let path = format!("projects/{}/project.json", args.project);
    let message = format!("{}: opens {}\n", args.project, project.title);
    record::add(&desk, &path, Kind::Project, &project, Changes::new(), &message)?;
    setting.done(format!("opened {}", args.project));
    about_the_date(args, setting)?;
    setting.printer.line(format!("  next: underlit status {}", args.project));
    setting.wrote(&args.project, Kind::Project, Some(args.project.as_str()), &path);
    Ok(Exit::Done)
}

pub(crate) fn project(verb: &ProjectVerb, setting: &Setting<'_>) -> Outcome {
    let ProjectVerb::Change(args) = verb;
    let desk = setting.desk()?;
    let folder = desk.reading.book.project(&args.project)?;
    let path = format!("{folder}/project.json");
    known_freight(&desk, &args.fields)?;
    if !args.fields.group_install.is_empty() {
        let snapshot = desk.reading.project(&args.project)?;
        let case = desk.reading.case(&snapshot);
        for own in &args.fields.group_install {
            group_of(&case, Some(&own.group))?;
        }
    }
    let today = setting.around.today();
    record::change(
        &desk,
        &path,
        Kind::Project,
        Changes::new(),
        |p: &Project| format!("{}: changes the project: {}\n", p.id, p.title),
        |p| {
            apply(&args.fields, p, today);
            known_people(&desk, p)
        },
    )?;
    setting.done(format!("changed {}", args.project));
    about_the_date(args, setting)?;
    setting.wrote(&args.project, Kind::Project, Some(args.project.as_str()), &path);
    Ok(Exit::Done)
}

/// Says at once where an install date that was named cannot be met or cannot be counted back from.
fn about_the_date(args: &OpenArgs, setting: &Setting<'_>) -> Result<(), Vec<Fault>> {
    if args.fields.install_date.is_none() || setting.around.dry_run {
        return Ok(());
    }
    let reading = setting.reading()?;
    let snapshot = reading.project(&args.project)?;
    match dates(&reading.case(&snapshot), setting.around.today()) {
        Err(why) => setting.printer.line(format!("  the install date: {why}")),
        Ok(found) if found.late => setting.printer.line(format!(
            "  the install date cannot be met: {} short, {} is the earliest",
            business_days(found.slack_business_days),
            found.earliest_install
        )),
        Ok(found) => setting.printer.line(format!(
            "  to be installed on {}, {} to spare",
            found.install_date,
            business_days(found.slack_business_days)
        )),
    }
    Ok(())
}

/// A freight that is named stands in the shop's list.
fn known_freight(desk: &crate::ops::Desk<'_>, fields: &Fields) -> Result<(), Vec<Fault>> {
    let all = &desk.reading.shop.routes.freights;
    let Some(freight) = fields.freight.as_ref().filter(|f| f.as_str() != USUAL_FREIGHT) else {
        return Ok(());
    };
    if all.iter().any(|known| known.id == freight.as_str()) {
        return Ok(());
    }
    let known: Vec<&str> = all.iter().map(|f| f.id.as_str()).chain([USUAL_FREIGHT]).collect();
    let what = format!("the shop has no freight {freight}");
    let fix = crate::words::instead_of(freight.as_str(), known, "add it: underlit shop freight add …");
    Err(vec![Fault::usage("unknown-freight", what).in_file("shop/routes.json").fix(fix)])
}

/// The word for a route's own way of travelling.
const USUAL_FREIGHT: &str = "usual";

fn apply_dates(fields: &Fields, project: &mut Project, today: Date) {
    let mut dates = project.dates.take().unwrap_or_default();
    if fields.rush || fields.no_rush {
        dates.rush = fields.rush.then_some(true);
    }
    if let Some(freight) = &fields.freight {
        dates.freight = Some(freight.clone()).filter(|f| f.as_str() != USUAL_FREIGHT);
    }
    dates.template = fields.template.or(dates.template);
    dates.slab_hold_until = fields.slab_hold_until.or(dates.slab_hold_until);
    let ordered = fields.ordered_ahead.iter().map(|what| OrderedAhead { what: what.clone(), date: today });
    dates.ordered_ahead.extend(ordered);
    for own in &fields.group_install {
        dates.groups.retain(|known| known.group != own.group);
        dates.groups.push(own.clone());
    }
    project.dates = Some(dates).filter(|dates| *dates != JobDates::default());
}

fn apply(fields: &Fields, project: &mut Project, today: Date) {
    apply_dates(fields, project, today);
    let people = &mut project.people;
    for (given, place) in [(&fields.client, &mut people.client), (&fields.rep, &mut people.rep)] {
        if let Some(person) = given {
            *place = person.clone();
        }
    }
    for (given, place) in [
        (&fields.designer, &mut people.designer),
        (&fields.engineer, &mut people.engineer),
        (&fields.fabricator, &mut people.fabricator),
        (&fields.installer, &mut people.installer),
        (&fields.stone_mason, &mut people.stone_mason),
        (&fields.electrician, &mut people.electrician),
    ] {
        if given.is_some() {
            place.clone_from(given);
        }
    }
    if !fields.approver.is_empty() {
        people.approvers.clone_from(&fields.approver);
    }
    if let Some(title) = &fields.title {
        project.title.clone_from(title);
    }
    if let Some(name) = &fields.site {
        project.site.name.clone_from(name);
    }
    for (given, place) in [
        (&fields.address, &mut project.site.address),
        (&fields.electrical_code, &mut project.site.electrical_code),
        (&fields.note, &mut project.note),
    ] {
        if given.is_some() {
            place.clone_from(given);
        }
    }
    if let Some(lux) = fields.ambient_lx {
        project.site.ambient_lx = Some(Lux(lux));
    }
    if let Some(volts) = fields.mains {
        project.site.mains_v = Some(Volts(volts));
    }
    if fields.code_region.is_some() {
        project.site.code_region = fields.code_region;
    }
    if fields.surround_reflectance.is_some() {
        project.site.surround_reflectance = fields.surround_reflectance;
    }
    if fields.install_date.is_some() {
        project.install_date = fields.install_date;
    }
}

/// Everybody whom a project names must be on the roster.
fn known_people(desk: &crate::ops::Desk<'_>, project: &Project) -> crate::fault::Outcome<()> {
    let roster = desk.reading.chain.newest();
    match project.people.named().find(|(_, id)| roster.person(id).is_none()) {
        None => Ok(()),
        Some((_, id)) => Err(Box::new(roster.unknown(id))),
    }
}
