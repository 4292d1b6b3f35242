//! Why a picture was not taken, and how to fix it.

use std::fmt;

use super::picture::MOST_PIXELS;

/// Why a picture was not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PictureError {
    /// Neither PNG nor JPEG.
    UnknownFormat,
    /// A photo as many telephones take them, in a format that is not read.
    Heif,
    /// The file cannot be decoded.
    Broken(String),
    /// More than [`MOST_PIXELS`].
    TooLarge {
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
    },
    /// More than 8 bits per channel.
    Deep,
    /// Printing inks.
    Cmyk,
    /// Black and white.
    NoColour,
    /// Pixels that are see-through.
    Transparent,
    /// A colour space that is neither sRGB nor Display P3.
    Profile,
}

impl PictureError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            PictureError::UnknownFormat => "picture-format",
            PictureError::Heif => "picture-heic",
            PictureError::Broken(_) => "picture-broken",
            PictureError::TooLarge { .. } => "picture-too-large",
            PictureError::Deep => "picture-16-bit",
            PictureError::Cmyk => "picture-cmyk",
            PictureError::NoColour => "picture-no-colour",
            PictureError::Transparent => "picture-transparent",
            PictureError::Profile => "picture-profile",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> &'static str {
        match self {
            PictureError::UnknownFormat => "save the photo as PNG or JPEG in sRGB",
            PictureError::Heif => {
                "set the telephone's camera to \"most compatible\" (JPEG) and take it again; or convert it with a free \
                 tool: heif-convert photo.heic photo.jpg (libheif)"
            }
            PictureError::Broken(_) => "copy the photo from the camera again",
            PictureError::TooLarge { .. } => {
                "scale the photo down to 24 megapixels or fewer: more of them tell nothing more"
            }
            PictureError::Deep => "export it with 8 bits per channel in sRGB, without tone curve",
            PictureError::Cmyk => "export it as RGB in sRGB; printing inks do not tell the light",
            PictureError::NoColour => "take the photo in colour",
            PictureError::Transparent => "export it without transparency",
            PictureError::Profile => "export it in sRGB or Display P3",
        }
    }
}

impl fmt::Display for PictureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PictureError::UnknownFormat => f.write_str("the photo is neither PNG nor JPEG"),
            PictureError::Heif => f.write_str(
                "the photo is in HEIC or AVIF, as many telephones save photos, and is not read here",
            ),
            PictureError::Broken(what) => write!(f, "the photo cannot be read: {what}"),
            PictureError::TooLarge { width, height } => {
                write!(
                    f,
                    "the photo has {width} × {height} pixels, more than {} million",
                    MOST_PIXELS / 1_000_000
                )
            }
            PictureError::Deep => f.write_str("the photo has more than 8 bits per channel"),
            PictureError::Cmyk => f.write_str("the photo is in CMYK"),
            PictureError::NoColour => f.write_str("the photo is black and white"),
            PictureError::Transparent => f.write_str("the photo has transparent pixels"),
            PictureError::Profile => f.write_str("the photo's colours are neither in sRGB nor in Display P3"),
        }
    }
}

impl std::error::Error for PictureError {}
