//! `copy`: a job or a panel again, under a new name.

use serde_json::json;

use super::failure::{Exit, Outcome};
use super::setting::Setting;
use crate::ids::{PanelId, PersonId, ProjectId};
use crate::ops::copy::{self, Copied, NewJob};

/// A job or a panel again, under a new name: what was described is carried, what was signed, tried, drawn or built is not.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum CopyVerb {
    /// Copy a job: its people and site, its stones and its panels with their drawings.
    ///
    /// The answer says what was not carried. A trial of the old job may stand for one of the new: underlit trial cite.
    ///
    /// Example: underlit copy project quay-bar pier-bar --title "Bar front, pier"
    Project(ProjectArgs),
    /// Copy a panel, within its job or into another one.
    ///
    /// Example: underlit copy panel quay-bar front back --title "Bar back"
    Panel(PanelArgs),
}

#[derive(Debug, clap::Args)]
pub(crate) struct ProjectArgs {
    /// The project.
    project: ProjectId,
    /// The short name of the new one.
    new: ProjectId,
    /// Its title.
    #[arg(long, value_name = "TEXT")]
    title: String,
    /// Its client; by default the same.
    #[arg(long, value_name = "PERSON")]
    client: Option<PersonId>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct PanelArgs {
    /// The project.
    project: ProjectId,
    /// The panel.
    panel: PanelId,
    /// The short name of the new one.
    new: PanelId,
    /// Its title; by default the same.
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// The project that it is copied into; by default its own.
    #[arg(long, value_name = "PROJECT")]
    to: Option<ProjectId>,
}

pub(crate) fn run(verb: &CopyVerb, setting: &Setting<'_>) -> Outcome {
    let desk = setting.desk()?;
    let (copied, project, what, next) = match verb {
        CopyVerb::Project(args) => {
            if let Some(client) =
                args.client.as_ref().filter(|c| desk.reading.chain.newest().person(c).is_none())
            {
                return Err(vec![desk.reading.chain.newest().unknown(client)]);
            }
            let opened = setting.around.today();
            let new = NewJob { id: &args.new, title: &args.title, client: args.client.as_ref(), opened };
            let copied = copy::job(&desk, &args.project, &new)?;
            let next = format!("underlit project change {} --install-date …", args.new);
            (copied, &args.new, format!("copied {} as {}", args.project, args.new), next)
        }
        CopyVerb::Panel(args) => {
            let to = args.to.as_ref().unwrap_or(&args.project);
            let title = args.title.as_deref();
            let copied = copy::panel(&desk, (&args.project, &args.panel), (to, &args.new), title)?;
            (
                copied,
                to,
                format!("copied panel {} as {}", args.panel, args.new),
                format!("underlit status {to}"),
            )
        }
    };
    let Copied { files, left } = &copied;
    setting.done(what);
    if !left.is_empty() {
        setting.printer.line(format!("  not carried: {}", left.join(", ")));
    }
    setting.printer.line(format!("  next: {next}"));
    setting.printer.json(&json!({ "project": project, "files": files, "not_carried": left }));
    Ok(Exit::Done)
}
