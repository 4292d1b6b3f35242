//! Sizes as people write them: a width and a height, `300mmx200mm`, `12in x 8in`; three sides, `250mmx80mmx60mm`.

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
        let [width, height] = sides(text, "a size: write width x height with a unit, like 300x200mm")?;
        Ok(Size { width, height })
    }
}

/// Three sides, in any order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sides(pub(crate) [Millimetres; 3]);

impl FromStr for Sides {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        sides(text, "three sides: write them with a unit, like 250x80x60mm").map(Sides)
    }
}

/// As many lengths with an x between them. Where only the last has a unit, it is the unit of all.
fn sides<const N: usize>(text: &str, what: &str) -> Result<[Millimetres; N], String> {
    let parts: Vec<&str> = text.split(['x', 'X', '×']).map(str::trim).collect();
    let bare =
        |part: &str| !part.contains(|c: char| c.is_alphabetic() || matches!(c, '"' | '″' | '\'' | '′'));
    let last = parts.last().copied().unwrap_or_default();
    let unit =
        last.trim_start_matches(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '/' | ' ' | '-'));
    let others = parts.iter().take(parts.len() - 1);
    let shared =
        if others.clone().all(|part| bare(part)) && !unit.contains(['\'', '′']) { unit } else { "" };
    let read = |part: &&str| {
        let whole = if bare(part) { format!("{part}{shared}") } else { (*part).to_owned() };
        whole.parse::<Millimetres>().map_err(|e| e.to_string())
    };
    let found: Vec<Millimetres> = parts.iter().map(read).collect::<Result<_, _>>()?;
    let found: [Millimetres; N] = found.try_into().map_err(|_| format!("`{text}` is not {what}"))?;
    if found.iter().any(|side| side.0 <= 0.0) {
        return Err(format!("`{text}`: each side must be greater than 0"));
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes() {
        assert_eq!("300mmx200mm".parse(), Ok(Size { width: Millimetres(300.0), height: Millimetres(200.0) }));
        assert_eq!("1m x 20cm".parse(), Ok(Size { width: Millimetres(1000.0), height: Millimetres(200.0) }));
        assert_eq!("1200x300mm".parse(), Ok(Size { width: Millimetres(1200.0), height: Millimetres(300.0) }));
        assert_eq!(
            "1,2 x 0,3 m".parse(),
            Ok(Size { width: Millimetres(1200.0), height: Millimetres(300.0) })
        );
        assert_eq!("10x4in".parse(), Ok(Size { width: Millimetres(254.0), height: Millimetres(101.6) }));
        for bad in ["300x200", "300mm", "0mmx5mm", "axb", "", "x", "300mmx200", "6x1'6\"", "1x2x3mm"] {
            assert!(bad.parse::<Size>().is_err(), "{bad}");
        }
    }

    #[test]
    fn three_sides() {
        let mm = Millimetres;
        assert_eq!("250mm x 8cm x 60mm".parse(), Ok(Sides([mm(250.0), mm(80.0), mm(60.0)])));
        for bad in ["250mmx80mm", "250mmx80mmx60mmx1mm", "250mmx80mmx0mm", "250x80x60", "", "250x80mm"] {
            assert!(bad.parse::<Sides>().is_err(), "{bad}");
        }
    }
}
