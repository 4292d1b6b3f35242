//! What is known of the site's electrics.

use crate::model::panel::Panel;
use crate::model::project::Site;

/// What nobody recorded of what feeds a panel, each in words; nothing where all of it is known.
#[must_use]
pub(crate) fn unknown(site: &Site, panel: &Panel) -> Vec<&'static str> {
    let asked = [
        (site.mains_v.is_some(), "the mains voltage"),
        (
            site.code_region.is_some() && site.electrical_code.is_some(),
            "the electrical code that governs there",
        ),
        (panel.supply.is_some(), "where its driver stands"),
    ];
    asked.into_iter().filter(|(known, _)| !known).map(|(_, what)| what).collect()
}
