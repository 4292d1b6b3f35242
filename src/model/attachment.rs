//! A file that lies beside its record, held to it by its digest.

use serde::{Deserialize, Serialize};

use crate::digest::Sha256Digest;
use crate::ids::FileName;

/// A file beside a record: a photo, a drawing, a spectrum, a scan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Attachment {
    /// Its name, in the record's own folder.
    pub file: FileName,
    /// The digest of its bytes.
    pub sha256: Sha256Digest,
}
