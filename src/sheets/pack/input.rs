//! What stands on a pack's pages besides its data: names, dates and signatures, which may change without
//! changing what is built.

use super::super::qr::Code;
use crate::job::pack::PackData;
use crate::job::pack::order::OrderLine;
use crate::job::pack::words::PackWords;
use crate::units::DisplayUnits;

/// Everything that a pack shows.
#[derive(Clone, Debug)]
pub(crate) struct PackInput<'a> {
    /// The data.
    pub data: &'a PackData,
    /// What they say in words.
    pub words: PackWords,
    /// Their digest, hexadecimal.
    pub sha256: String,
    /// What a telephone's camera opens: the job's page, where the shop has pages.
    pub code: Code,
    /// Names and dates.
    pub heading: Heading,
    /// The release; none where the job is not released as it is now.
    pub release: Option<ReleaseLine>,
    /// What is missing before the job may be built.
    pub missing: Vec<String>,
    /// The refusals that owners overrode, with their reasons.
    pub overridden: Vec<String>,
    /// Everything that was signed.
    pub sign_offs: Vec<SignOffLine>,
    /// The steps with their dates.
    pub dates: Vec<DateLine>,
    /// What to say below the dates.
    pub date_notes: Vec<String>,
    /// What was built and how it compares with the plan, in sentences; empty before that.
    pub built: Vec<String>,
    /// How it was put in, label and value; empty before that.
    pub installed: Vec<(String, String)>,
    /// What to order, with allowances and whole sheets.
    pub order: Vec<OrderLine>,
    /// The other files of the pack: path and what it is.
    pub files: Vec<(String, String)>,
    /// The units shown first.
    pub units: DisplayUnits,
    /// Drawing sheets that go behind the pages.
    pub sheets: Vec<SheetPage>,
}

/// Names and dates of a job.
#[derive(Clone, Debug, Default)]
pub(crate) struct Heading {
    /// The shop.
    pub shop: String,
    /// The job's title.
    pub title: String,
    /// The client's name.
    pub client: String,
    /// Roles and names.
    pub people: Vec<(String, String)>,
    /// The install date, or that none is set.
    pub install_date: String,
    /// The stage.
    pub stage: String,
    /// Date of issue, as it is to be shown.
    pub date_of_issue: String,
    /// Title of each panel, by its name.
    pub panel_titles: Vec<(String, String)>,
}

/// Who released a job.
#[derive(Clone, Debug)]
pub(crate) struct ReleaseLine {
    /// Names, with how each said it.
    pub who: String,
    /// When, as the statement says.
    pub when: String,
    /// The statement's digest.
    pub sha256: String,
}

/// One signature.
#[derive(Clone, Debug)]
pub(crate) struct SignOffLine {
    /// About what.
    pub about: String,
    /// Whose word.
    pub who: String,
    /// In which role.
    pub role: String,
    /// What was said.
    pub decision: String,
    /// Own signature, or evidence and by whom it was taken in.
    pub kind: String,
    /// When, as it says itself.
    pub when: String,
    /// Whether it fits the facts as they are.
    pub standing: String,
    /// Its digest.
    pub sha256: String,
}

/// One step with its dates.
#[derive(Clone, Debug)]
pub(crate) struct DateLine {
    /// What has to be done.
    pub what: String,
    /// By when at the latest.
    pub latest: String,
    /// When at the earliest, or that it is done; empty where that is not shown.
    pub earliest: String,
    /// Business days between them.
    pub spare: String,
}

/// A drawing sheet as it is filed.
#[derive(Clone, Debug)]
pub(crate) struct SheetPage {
    /// The SVG.
    pub svg: String,
    /// Width and height in millimetres.
    pub size_mm: (f64, f64),
}
