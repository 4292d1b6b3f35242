//! `project.json`: the client, the site, the people and the dates of one job.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::roster::Role;
use crate::ids::{GroupId, PersonId, ProjectId, StockId};
use crate::power::vocabulary::CodeRegion;
use crate::units::{Lux, Volts};

/// One job for one client.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Project {
    /// Path of the schema, for editors.
    #[serde(rename = "$schema")]
    pub schema: String,
    /// The project's name, which is also its folder.
    pub id: ProjectId,
    /// What people call it.
    pub title: String,
    /// Who is who on this job.
    pub people: ProjectPeople,
    /// Where it is built in.
    pub site: Site,
    /// The day the project was opened.
    pub opened: Date,
    /// The day the panels are to be installed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub install_date: Option<Date>,
    /// Dates and ways of time of its own; none where the shop's usual ones hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dates: Option<JobDates>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Project {
    /// A project of which no more is known than who, what and where.
    #[must_use]
    pub(crate) fn of(
        id: ProjectId,
        title: &str,
        client: PersonId,
        rep: PersonId,
        site: &str,
        opened: Date,
    ) -> Self {
        Project {
            schema: "../../schema/project.schema.json".into(),
            id,
            title: title.to_owned(),
            people: ProjectPeople {
                client,
                rep,
                designer: None,
                engineer: None,
                fabricator: None,
                installer: None,
                stone_mason: None,
                electrician: None,
                approvers: Vec::new(),
            },
            site: Site {
                name: site.to_owned(),
                address: None,
                electrical_code: None,
                mains_v: None,
                code_region: None,
                ambient_lx: None,
                surround_reflectance: None,
            },
            opened,
            install_date: None,
            dates: None,
            note: None,
        }
    }
}

/// Who is who on a job, by their names on the roster.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProjectPeople {
    /// Who approves for the client.
    pub client: PersonId,
    /// Who looks after the job.
    pub rep: PersonId,
    /// Who draws it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub designer: Option<PersonId>,
    /// Who releases it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub engineer: Option<PersonId>,
    /// Who builds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fabricator: Option<PersonId>,
    /// Who installs it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub installer: Option<PersonId>,
    /// Who templates, cuts and sets the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stone_mason: Option<PersonId>,
    /// Who connects and tests the mains side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub electrician: Option<PersonId>,
    /// Who approves beside the client, where the shop's rules ask approvers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub approvers: Vec<Approver>,
}

impl Project {
    /// The day on which a release group is to be installed: its own, or else the job's.
    #[must_use]
    pub(crate) fn install_date_of(&self, group: &GroupId) -> Option<Date> {
        let own = self.dates.iter().flat_map(|dates| &dates.groups).find(|own| own.group == *group);
        own.map(|own| own.install_date).or(self.install_date)
    }
}

impl ProjectPeople {
    /// Everybody whom the job names, each with their role, in the order in which they are shown.
    pub(crate) fn named(&self) -> impl Iterator<Item = (Role, &PersonId)> {
        let one_each = [
            (Role::Client, Some(&self.client)),
            (Role::Rep, Some(&self.rep)),
            (Role::Designer, self.designer.as_ref()),
            (Role::Engineer, self.engineer.as_ref()),
            (Role::Fabricator, self.fabricator.as_ref()),
            (Role::Installer, self.installer.as_ref()),
            (Role::StoneMason, self.stone_mason.as_ref()),
            (Role::Electrician, self.electrician.as_ref()),
        ];
        let approvers = self.approvers.iter().map(|approver| (Role::Approver, &approver.person));
        one_each.into_iter().filter_map(|(role, person)| Some((role, person?))).chain(approvers)
    }

    /// Who the job names in a role.
    pub(crate) fn in_role(&self, role: Role) -> impl Iterator<Item = &PersonId> {
        self.named().filter(move |(named, _)| *named == role).map(|(_, person)| person)
    }
}

/// Somebody who approves beside the client.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Approver {
    /// Who.
    pub person: PersonId,
    /// For whom or as what: architect, operator, contractor.
    pub stands_for: String,
}

/// The place a job is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// What the place is called.
    pub name: String,
    /// Where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// The electrical code and edition that govern there, as the licensed person names them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub electrical_code: Option<String>,
    /// The mains voltage that the drivers are fed with there, alternating current.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mains_v: Option<Volts>,
    /// The family of electrical codes that governs there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code_region: Option<CodeRegion>,
    /// The light in the room, on the wall or floor around the stone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ambient_lx: Option<Lux>,
    /// The share of that light that the surroundings throw back, from 0 to 1.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "crate::units::optional_number"
    )]
    pub surround_reflectance: Option<f64>,
}

/// Dates and ways of time that are a job's own.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JobDates {
    /// True where it is built in the time that its route takes for a rush.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rush: Option<bool>,
    /// How the panels travel, from the shop's list of freights; none for the route's usual way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freight: Option<StockId>,
    /// The day on which the stone is templated at the place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub template: Option<Date>,
    /// The last day for which the slab is held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slab_hold_until: Option<Date>,
    /// What was ordered before the drawing of it was approved.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ordered_ahead: Vec<OrderedAhead>,
    /// Release groups that are installed on a day of their own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<GroupDate>,
}

/// The day of a release group.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GroupDate {
    /// The group.
    pub group: GroupId,
    /// The day its panels are to be installed.
    pub install_date: Date,
}

/// Something that was ordered before its drawing was approved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderedAhead {
    /// What.
    pub what: String,
    /// The day.
    pub date: Date,
}
