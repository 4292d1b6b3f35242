//! Sizes on the command line: a width and a height, `300mmx200mm`, `12in x 8in`; three sides, `250mmx80mmx60mm`.

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

/// Three sides, in any order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sides(pub(crate) [Millimetres; 3]);

impl FromStr for Sides {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let no_sides = || format!("`{text}` is not three sides; write them with units, like 250mmx80mmx60mm");
        let sides: Vec<Millimetres> = text
            .split(['x', 'X', '×'])
            .map(|side| side.trim().parse::<Millimetres>().map_err(|e| e.to_string()))
            .collect::<Result<_, _>>()?;
        let sides: [Millimetres; 3] = sides.try_into().map_err(|_| no_sides())?;
        if sides.iter().any(|side| side.0 <= 0.0) {
            return Err(format!("`{text}` has no extent"));
        }
        Ok(Sides(sides))
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

    #[test]
    fn three_sides() {
        let mm = Millimetres;
        assert_eq!("250mm x 8cm x 60mm".parse(), Ok(Sides([mm(250.0), mm(80.0), mm(60.0)])));
        for bad in ["250mmx80mm", "250mmx80mmx60mmx1mm", "250mmx80mmx0mm", "250x80x60", ""] {
            assert!(bad.parse::<Sides>().is_err(), "{bad}");
        }
    }
}
