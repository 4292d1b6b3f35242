//! A width and a height on the command line: `300mmx200mm`, `12in x 8in`.

use std::str::FromStr;

use crate::units::Millimetres;

/// A width and a height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Size {
    /// The width.
    pub(crate) width: Millimetres,
    /// The height.
    pub(crate) height: Millimetres,
}

impl FromStr for Size {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (width, height) = text.split_once(['x', 'X', '×']).ok_or_else(|| {
            format!("`{text}` is no size; write width x height with units, like 300mmx200mm")
        })?;
        let side = |text: &str| text.trim().parse::<Millimetres>().map_err(|e| e.to_string());
        let size = Size { width: side(width)?, height: side(height)? };
        if size.width.0 <= 0.0 || size.height.0 <= 0.0 {
            return Err(format!("`{text}` has no extent"));
        }
        Ok(size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes() {
        assert_eq!("300mmx200mm".parse(), Ok(Size { width: Millimetres(300.0), height: Millimetres(200.0) }));
        assert_eq!("1m x 20cm".parse(), Ok(Size { width: Millimetres(1000.0), height: Millimetres(200.0) }));
        for bad in ["300x200", "300mm", "0mmx5mm", "axb", ""] {
            assert!(bad.parse::<Size>().is_err(), "{bad}");
        }
    }
}
