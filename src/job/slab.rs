//! Whether the very slab that will lie over a panel was seen.

use crate::model::panel::Panel;

/// What is not known of a panel's slab, in words; none where it was seen lit and its pieces follow one another as somebody
/// wrote down.
#[must_use]
pub(crate) fn unseen(panel: &Panel) -> Option<&'static str> {
    let Some(slab) = &panel.slab else { return Some("its slab is not recorded") };
    if slab.photo.is_none() && slab.trial.is_none() {
        return Some("its slab was not seen lit: no photo and no trial of that very slab");
    }
    if slab.backing.is_none() {
        return Some("whether a mesh or the like is on the back of its slab is not recorded");
    }
    if !panel.seams.is_empty() && slab.book_match.is_none() {
        return Some("how its pieces follow one another in the slab is not recorded");
    }
    None
}
