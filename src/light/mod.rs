//! The light room: spectra, white light, stone, what the stone will look like, photometry.
//!
//! Pure: bytes and numbers in, values and bytes out. It opens no file and knows nothing of projects.
//!
//! | file | what it answers |
//! |---|---|
//! | [`practice`] | what the trade usually does for such a stone |

pub mod practice;
