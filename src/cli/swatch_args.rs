//! Which swatch is meant, for every verb about one.

use crate::fault::Fault;
use crate::ids::{ProjectId, SwatchId};
use crate::ops::Reading;

/// A swatch of a project.
#[derive(Debug, clap::Args)]
pub(crate) struct Named {
    /// The project.
    pub(super) project: ProjectId,
    /// The swatch's short name.
    pub(super) swatch: SwatchId,
}

pub(super) fn place(named: &Named, reading: &Reading) -> Result<(String, String), Vec<Fault>> {
    let project = reading.book.project(&named.project)?;
    let folder = format!("{project}/swatches");
    let path = format!("{folder}/{}.json", named.swatch);
    Ok((folder, path))
}
