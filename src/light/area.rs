//! A place in a photo: a rectangle or a polygon, in pixels of the upright picture.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

/// A rectangle or polygon, in pixels from the top left corner, y downward.
#[derive(Clone, Debug, PartialEq)]
pub enum Area {
    /// Left, top, width and height.
    Rectangle {
        /// Left edge.
        x: f64,
        /// Top edge.
        y: f64,
        /// Width, above zero.
        width: f64,
        /// Height, above zero.
        height: f64,
    },
    /// Corners in order; the last joins the first. Where edges cross, the even-odd rule holds.
    Polygon(Vec<[f64; 2]>),
}

/// The fewest pixels an area must hold, so that noise averages out.
pub(crate) const FEWEST_PIXELS: usize = 100;
/// The most corners a polygon may have.
const MOST_CORNERS: usize = 1000;

impl Area {
    /// The runs of pixels whose centres lie inside, as row and columns, from the top.
    ///
    /// # Errors
    /// Refuses what is no area, reaches out of a picture of this size, or holds fewer than
    /// [`FEWEST_PIXELS`].
    pub fn runs(&self, width: usize, height: usize) -> Result<Vec<(usize, Range<usize>)>, AreaError> {
        let corners = self.corners()?;
        let inside = |[x, y]: &[f64; 2]| {
            (-0.5..=width as f64 + 0.5).contains(x) && (-0.5..=height as f64 + 0.5).contains(y)
        };
        if let Some([x, y]) = corners.iter().find(|c| !inside(c)) {
            return Err(AreaError::Outside { x: *x, y: *y, width, height });
        }
        let mut runs = Vec::new();
        let mut crossings = Vec::new();
        for row in 0..height {
            let y = row as f64 + 0.5;
            crossings.clear();
            for (a, b) in corners.iter().zip(corners.iter().cycle().skip(1)) {
                if (a[1] <= y) != (b[1] <= y) {
                    crossings.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                }
            }
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                let column = |x: f64| ((x - 0.5).ceil().max(0.0) as usize).min(width);
                let run = column(pair[0])..column(pair[1]);
                if !run.is_empty() {
                    runs.push((row, run));
                }
            }
        }
        let count: usize = runs.iter().map(|(_, run)| run.len()).sum();
        if count < FEWEST_PIXELS { Err(AreaError::TooSmall(count)) } else { Ok(runs) }
    }

    fn corners(&self) -> Result<Vec<[f64; 2]>, AreaError> {
        let corners = match self {
            Area::Rectangle { x, y, width, height } => {
                if !(*width > 0.0 && *height > 0.0) {
                    return Err(AreaError::NoArea);
                }
                vec![[*x, *y], [x + width, *y], [x + width, y + height], [*x, y + height]]
            }
            Area::Polygon(corners) => corners.clone(),
        };
        let sound =
            (3..=MOST_CORNERS).contains(&corners.len()) && corners.iter().flatten().all(|v| v.is_finite());
        if sound { Ok(corners) } else { Err(AreaError::NoArea) }
    }
}

impl FromStr for Area {
    type Err = AreaError;

    /// `120,80,400,300` is a rectangle (left, top, width, height); `10,10 200,20 150,180` is a polygon.
    fn from_str(text: &str) -> Result<Area, AreaError> {
        let number = |t: &str| t.trim().parse::<f64>().ok().filter(|v| v.is_finite());
        let points: Vec<&str> = text.split_whitespace().collect();
        let unreadable = || AreaError::Unreadable(text.into());
        if let [one] = points.as_slice() {
            let numbers: Vec<f64> =
                one.split(',').map(number).collect::<Option<_>>().ok_or_else(unreadable)?;
            let [x, y, width, height] = numbers[..] else { return Err(unreadable()) };
            return Ok(Area::Rectangle { x, y, width, height });
        }
        let corner = |point: &&str| {
            let (x, y) = point.split_once(',')?;
            Some([number(x)?, number(y)?])
        };
        let corners: Vec<[f64; 2]> =
            points.iter().map(corner).collect::<Option<_>>().ok_or_else(unreadable)?;
        if corners.len() < 3 { Err(unreadable()) } else { Ok(Area::Polygon(corners)) }
    }
}

/// Why a place in a photo was not taken.
#[derive(Clone, Debug, PartialEq)]
pub enum AreaError {
    /// Text that is neither a rectangle nor a polygon.
    Unreadable(String),
    /// Fewer than three corners, no width, or no number.
    NoArea,
    /// A corner outside the picture.
    Outside {
        /// The corner's x.
        x: f64,
        /// The corner's y.
        y: f64,
        /// The picture's width.
        width: usize,
        /// The picture's height.
        height: usize,
    },
    /// Too few pixels.
    TooSmall(usize),
}

impl AreaError {
    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self {
            AreaError::Unreadable(_) => "area-unreadable",
            AreaError::NoArea => "area-empty",
            AreaError::Outside { .. } => "area-outside",
            AreaError::TooSmall(_) => "area-too-small",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match self {
            AreaError::Unreadable(_) | AreaError::NoArea => {
                "give a rectangle as left,top,width,height or a polygon as x,y x,y x,y in pixels".into()
            }
            AreaError::Outside { width, height, .. } => {
                format!("keep the area within {width} × {height} pixels, counted on the upright picture")
            }
            AreaError::TooSmall(_) => format!("take at least {FEWEST_PIXELS} pixels"),
        }
    }
}

impl fmt::Display for AreaError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            AreaError::Unreadable(text) => write!(f, "`{text}` is not an area of a photo"),
            AreaError::NoArea => f.write_str("the area marked in the photo is empty"),
            AreaError::Outside { x, y, width, height } => {
                write!(f, "the corner {x}, {y} lies outside the photo of {width} × {height} pixels")
            }
            AreaError::TooSmall(count) => write!(f, "the area marked in the photo has only {count} pixels"),
        }
    }
}

impl std::error::Error for AreaError {}

#[cfg(test)]
mod tests {
    use super::*;

    fn count(text: &str) -> Result<usize, AreaError> {
        let area: Area = text.parse()?;
        Ok(area.runs(100, 100)?.iter().map(|(_, run)| run.len()).sum())
    }

    #[test]
    fn areas_hold_the_pixels_whose_centres_they_hold() {
        assert_eq!(count("10,20,30,40"), Ok(1200));
        assert_eq!(count("0,0,100,100"), Ok(10_000));
        assert_eq!(count("0,0 100,0 100,100 0,100"), Ok(10_000));
        let half = count("0,0 100,0 0,100").unwrap_or(0);
        assert!((4900..=5100).contains(&half), "{half}");
        // A bow tie crosses itself: its two halves count, its outside does not.
        let bow = count("0,0 100,100 100,0 0,100").unwrap_or(0);
        assert!((4900..=5100).contains(&bow), "{bow}");
    }

    #[test]
    fn what_is_no_area_is_refused() {
        for (text, code) in [
            ("", "area-unreadable"),
            ("1,2,3", "area-unreadable"),
            ("a,b,c,d", "area-unreadable"),
            ("1,1 2,2", "area-unreadable"),
            ("10,10,0,50", "area-empty"),
            ("10,10,-5,50", "area-empty"),
            ("90,90,20,20", "area-outside"),
            ("-10,0 50,0 50,50", "area-outside"),
            ("1,1,5,5", "area-too-small"),
        ] {
            assert_eq!(count(text).err().map(|e| e.code()), Some(code), "{text}");
        }
    }
}
