//! `open` and `project change`: a project's own record.

use jiff::civil::Date;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::fault::Fault;
use crate::ids::{PersonId, ProjectId};
use crate::model::kind::Kind;
use crate::model::project::Project;
use crate::ops::dates::dates;
use crate::ops::record;
use crate::power::vocabulary::CodeRegion;
use crate::store::Changes;
use crate::units::{Lux, Volts};
use crate::words::business_days;

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
    apply(fields, &mut project);
    known_people(&desk, &project)?;
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
    record::change(
        &desk,
        &path,
        Kind::Project,
        Changes::new(),
        |p: &Project| format!("{}: changes the project: {}\n", p.id, p.title),
        |p| {
            apply(&args.fields, p);
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

fn apply(fields: &Fields, project: &mut Project) {
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
    ] {
        if given.is_some() {
            place.clone_from(given);
        }
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
    let p = &project.people;
    let named = [
        Some(&p.client),
        Some(&p.rep),
        p.designer.as_ref(),
        p.engineer.as_ref(),
        p.fabricator.as_ref(),
        p.installer.as_ref(),
    ];
    let roster = desk.reading.chain.newest();
    match named.into_iter().flatten().find(|id| roster.person(id).is_none()) {
        None => Ok(()),
        Some(id) => Err(Box::new(roster.unknown(id))),
    }
}
