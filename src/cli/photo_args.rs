//! How photos are taken in, for every verb that takes one.

use crate::ops::record::PhotoNotes;

/// What stays in a photo beside the picture.
#[derive(Clone, Copy, Debug, Default, clap::Args)]
pub(crate) struct PhotoArgs {
    /// Keep in photos where, when, by whom and with which device they were taken. Usually all of that goes; orientation,
    /// colour profile and exposure stay.
    #[arg(long)]
    keep_photo_notes: bool,
}

impl PhotoArgs {
    /// What becomes of the notes.
    pub(crate) fn notes(self) -> PhotoNotes {
        if self.keep_photo_notes { PhotoNotes::Kept } else { PhotoNotes::Removed }
    }
}
