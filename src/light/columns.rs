//! From measured wavelengths and values, as they come out of a file, to a spectrum on the grid.
//!
//! All the doubts about a measurement are settled here: order of wavelengths, gaps, range, negative values
//! and percent for fraction. What is fixed along the way is said in a remark, never silently.

use std::fmt;

use colorimetry::spectrum::Spectrum;

use super::spectrum::{COUNT, FIRST_NM, LAST_NM, Spd, Transmittance};

/// The widest step between wavelengths that is taken, in nanometres; CIE 15:2018 asks for 5 nm or less, and
/// wider steps up to this one are taken with a remark.
pub(crate) const WIDEST_STEP_NM: f64 = 10.0;
/// The range that a measurement must cover at least, in nanometres.
pub(crate) const NEEDED_NM: (f64, f64) = (400.0, 700.0);

/// A value read, with what had to be fixed for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Read<T> {
    /// The value.
    pub value: T,
    /// What was fixed or deserves a second look, one sentence each.
    pub remarks: Vec<String>,
}

/// One column of values beside its wavelengths, just as the file gives them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Column {
    /// What the file calls it.
    pub name: String,
    /// Wavelengths in nanometres, in the file's order.
    pub wavelengths_nm: Vec<f64>,
    /// The values.
    pub values: Vec<f64>,
    /// The line of each value in the file, from 1.
    pub lines: Vec<u64>,
    /// True where the file itself says that the values are percent.
    pub percent: bool,
}

/// Why a measurement was not taken.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasurementError {
    /// The line of the file, from 1; none where no single line is to blame.
    pub line: Option<u64>,
    /// What is wrong.
    pub fault: Fault,
}

/// What is wrong with a measurement.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// The file is no text in UTF-8.
    NotText,
    /// There is nothing in it.
    Empty,
    /// A field that should hold a number.
    NotANumber(String),
    /// A row with too few fields.
    ShortRow,
    /// The first column of the header is not a wavelength in nanometres.
    NoWavelengthColumn(String),
    /// Wavelengths in another unit than nanometres.
    NotNanometres(f64),
    /// Wavelengths that do not rise from row to row.
    Order(f64, f64),
    /// A hole between two neighbouring wavelengths.
    Gap(f64, f64),
    /// Too little of the visible range.
    Range(f64, f64),
    /// A value below zero by more than a dark reading explains.
    Negative(f64, f64),
    /// Percent where a fraction belongs.
    Percent(f64, f64),
    /// A transmittance above one.
    OverOne(f64, f64),
    /// No visible light at all.
    Dark,
    /// The markup cannot be read.
    Markup(String),
    /// Markup of another kind, or of a quantity that is not wanted here.
    WrongKind(String),
}

impl MeasurementError {
    pub(crate) fn at(line: u64, fault: Fault) -> MeasurementError {
        MeasurementError { line: Some(line), fault }
    }

    pub(crate) fn whole(fault: Fault) -> MeasurementError {
        MeasurementError { line: None, fault }
    }

    /// A stable code for programs.
    #[must_use]
    pub(crate) fn code(&self) -> &'static str {
        match self.fault {
            Fault::NotText => "spectrum-not-text",
            Fault::Empty => "spectrum-empty",
            Fault::NotANumber(_) => "spectrum-not-a-number",
            Fault::ShortRow => "spectrum-short-row",
            Fault::NoWavelengthColumn(_) => "spectrum-no-wavelength",
            Fault::NotNanometres(_) => "spectrum-not-nanometres",
            Fault::Order(..) => "spectrum-order",
            Fault::Gap(..) => "spectrum-gap",
            Fault::Range(..) => "spectrum-range",
            Fault::Negative(..) => "spectrum-negative",
            Fault::Percent(..) => "spectrum-percent",
            Fault::OverOne(..) => "spectrum-over-one",
            Fault::Dark => "spectrum-dark",
            Fault::Markup(_) => "spectrum-markup",
            Fault::WrongKind(_) => "spectrum-wrong-kind",
        }
    }

    /// How to fix it.
    #[must_use]
    pub(crate) fn remedy(&self) -> String {
        match &self.fault {
            Fault::NotText => "save the file as UTF-8 text".into(),
            Fault::Empty => "give rows of a wavelength in nanometres and a value".into(),
            Fault::NotANumber(_) | Fault::ShortRow => {
                "give every row a wavelength in nanometres and a plain number for each column".into()
            }
            Fault::NoWavelengthColumn(_) => "name the first column wavelength_nm".into(),
            Fault::NotNanometres(_) => "give wavelengths in nanometres, such as 380 to 780".into(),
            Fault::Order(..) => "sort the rows by rising wavelength, each wavelength once".into(),
            Fault::Gap(..) => {
                format!("measure again without the gap: steps of 5 nm, at most {WIDEST_STEP_NM:.0} nm")
            }
            Fault::Range(..) => {
                let (low, high) = NEEDED_NM;
                format!("measure from 380 to 780 nm, at the least from {low:.0} to {high:.0} nm")
            }
            Fault::Negative(..) => "subtract the dark reading again and measure once more".into(),
            Fault::Percent(..) => {
                "divide by 100, or name the column transmittance_pct so that it is read as percent".into()
            }
            Fault::OverOne(..) => {
                "measure the bare panel again: a stone cannot let through more light than falls on it".into()
            }
            Fault::Dark => "measure with the light on and the sensor open".into(),
            Fault::Markup(_) => "export the file again as IES TM-27-14, or as CSV".into(),
            Fault::WrongKind(_) => "give a file of the quantity that is asked for".into(),
        }
    }
}

impl fmt::Display for MeasurementError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        match &self.fault {
            Fault::NotText => f.write_str("the file is not UTF-8 text"),
            Fault::Empty => f.write_str("there is no measurement in it"),
            Fault::NotANumber(text) => write!(f, "`{text}` is not a number"),
            Fault::ShortRow => f.write_str("the row has too few fields"),
            Fault::NoWavelengthColumn(name) => write!(f, "the first column, `{name}`, is not the wavelength"),
            Fault::NotNanometres(nm) => write!(f, "{nm} is not a wavelength of light in nanometres"),
            Fault::Order(before, after) => write!(f, "{after} nm follows {before} nm: wavelengths must rise"),
            Fault::Gap(before, after) => write!(f, "nothing was measured between {before} nm and {after} nm"),
            Fault::Range(low, high) => write!(f, "measured only from {low} nm to {high} nm"),
            Fault::Negative(nm, value) => write!(f, "{value} at {nm} nm is negative"),
            Fault::Percent(nm, value) => {
                write!(f, "{value} at {nm} nm looks like percent where a fraction of 1 is meant")
            }
            Fault::OverOne(nm, value) => write!(f, "a transmittance of {value} at {nm} nm is above 1"),
            Fault::Dark => f.write_str("there is no visible light in it"),
            Fault::Markup(what) => write!(f, "the XML cannot be read: {what}"),
            Fault::WrongKind(what) => f.write_str(what),
        }
    }
}

impl std::error::Error for MeasurementError {}

impl Column {
    /// This column as the spectrum of a light.
    ///
    /// Negative values down to half a percent of the peak are noise about a dark reading and become zero;
    /// outside the measured range the light is taken as zero (CIE 224:2017).
    ///
    /// # Errors
    /// Refuses wavelengths out of order, with gaps or with too little range, negative values and darkness.
    pub(crate) fn light(&self) -> Result<Read<Spd>, MeasurementError> {
        let mut remarks = Vec::new();
        self.check_wavelengths(&mut remarks)?;
        let peak = self.values.iter().copied().fold(0.0, f64::max);
        let values = self.without_noise(&self.values, peak * 0.005, &mut remarks)?;
        let mut grid = self.on_grid(&values);
        let (low, high) = self.range();
        for (i, v) in grid.iter_mut().enumerate() {
            let nm = (FIRST_NM + i) as f64;
            *v = if nm < low || nm > high { 0.0 } else { v.max(0.0) };
        }
        if low > FIRST_NM as f64 || high < LAST_NM as f64 {
            remarks.push(format!(
                "measured from {low} to {high} nm; the rest of 380 to 780 nm is taken as no light"
            ));
        }
        let value = Spd::new(grid).map_err(|_| MeasurementError::whole(Fault::Dark))?;
        Ok(Read { value, remarks })
    }

    /// This column as a stone's transmittance.
    ///
    /// Values from −0.005 to 0 and from 1 to 1.02 are noise and are held within 0 to 1; outside the
    /// measured range the end values go on (CIE 15:2018, 7.2.3).
    ///
    /// # Errors
    /// As [`Column::light`], and refuses percent for fraction and more than all of the light.
    pub(crate) fn stone(&self) -> Result<Read<Transmittance>, MeasurementError> {
        let mut remarks = Vec::new();
        self.check_wavelengths(&mut remarks)?;
        let fraction: Vec<f64> =
            self.values.iter().map(|v| if self.percent { v / 100.0 } else { *v }).collect();
        let values = self.without_noise(&fraction, 0.005, &mut remarks)?;
        if let Some((i, _)) = values.iter().enumerate().find(|(_, v)| **v > 1.02) {
            let highest = values.iter().copied().fold(0.0, f64::max);
            let (nm, value) = (self.wavelengths_nm[i], values[i]);
            let fault = if !self.percent && highest <= 100.0 && highest > 1.5 {
                Fault::Percent(nm, value)
            } else {
                Fault::OverOne(nm, value)
            };
            return Err(MeasurementError::at(self.lines[i], fault));
        }
        if values.iter().any(|v| *v > 1.0) {
            remarks.push("values up to 1.02 were taken as 1".into());
        }
        let grid = self.on_grid(&values).into_iter().map(|v| v.clamp(0.0, 1.0)).collect();
        let (low, high) = self.range();
        if low > FIRST_NM as f64 || high < LAST_NM as f64 {
            remarks.push(format!("measured from {low} to {high} nm; beyond, the end values go on"));
        }
        let value = Transmittance::new(grid).map_err(|_| MeasurementError::whole(Fault::Empty))?;
        Ok(Read { value, remarks })
    }

    fn range(&self) -> (f64, f64) {
        (
            self.wavelengths_nm.first().copied().unwrap_or(0.0),
            self.wavelengths_nm.last().copied().unwrap_or(0.0),
        )
    }

    fn check_wavelengths(&self, remarks: &mut Vec<String>) -> Result<(), MeasurementError> {
        if self.wavelengths_nm.is_empty() {
            return Err(MeasurementError::whole(Fault::Empty));
        }
        for (nm, line) in self.wavelengths_nm.iter().zip(&self.lines) {
            if !(100.0..=5000.0).contains(nm) {
                return Err(MeasurementError::at(*line, Fault::NotNanometres(*nm)));
            }
        }
        let mut widest = 0.0f64;
        for (pair, line) in self.wavelengths_nm.windows(2).zip(self.lines.iter().skip(1)) {
            let step = pair[1] - pair[0];
            if step <= 0.0 {
                return Err(MeasurementError::at(*line, Fault::Order(pair[0], pair[1])));
            }
            let bears = pair[1] > FIRST_NM as f64 && pair[0] < LAST_NM as f64;
            if bears && step > WIDEST_STEP_NM + 1e-9 {
                return Err(MeasurementError::at(*line, Fault::Gap(pair[0], pair[1])));
            }
            if bears {
                widest = widest.max(step);
            }
        }
        let (low, high) = self.range();
        if low > NEEDED_NM.0 || high < NEEDED_NM.1 {
            return Err(MeasurementError::whole(Fault::Range(low, high)));
        }
        if widest > 5.0 + 1e-9 {
            remarks.push(format!("measured in steps up to {widest} nm; 5 nm or less is asked for by CIE 15"));
        }
        Ok(())
    }

    fn without_noise(
        &self,
        values: &[f64],
        floor: f64,
        remarks: &mut Vec<String>,
    ) -> Result<Vec<f64>, MeasurementError> {
        for ((value, nm), line) in values.iter().zip(&self.wavelengths_nm).zip(&self.lines) {
            if *value < -floor {
                return Err(MeasurementError::at(*line, Fault::Negative(*nm, *value)));
            }
        }
        let below = values.iter().filter(|v| **v < 0.0).count();
        if below > 0 {
            remarks.push(format!("{below} values a little below zero were taken as zero"));
        }
        Ok(values.iter().map(|v| v.max(0.0)).collect())
    }

    /// Brings values to the grid: Sprague where the steps are even (CIE 15:2018, 7.2.1), else straight lines.
    fn on_grid(&self, values: &[f64]) -> Vec<f64> {
        let (low, high) = self.range();
        let step = (high - low) / (values.len().max(2) - 1) as f64;
        let even = self
            .wavelengths_nm
            .iter()
            .enumerate()
            .all(|(i, nm)| (nm - low - step * i as f64).abs() < 1e-6 * step.max(1.0));
        if even && values.len() > 6 {
            // Sprague's formula looks two and three points ahead; straight on at both ends keeps a straight
            // measurement straight, where repeating the end value would bend it.
            let (first, last) = (values[0], values[values.len() - 1]);
            let (rise, fall) = (first - values[1], last - values[values.len() - 2]);
            let padded: Vec<f64> = [first + 2.0 * rise, first + rise]
                .into_iter()
                .chain(values.iter().copied())
                .chain([last + fall, last + 2.0 * fall])
                .collect();
            let ends = [low - 2.0 * step, high + 2.0 * step];
            if let Ok(spectrum) = Spectrum::sprague_interpolate(ends, &padded) {
                let mut grid = spectrum.as_array().to_vec();
                for (i, v) in grid.iter_mut().enumerate() {
                    let nm = (FIRST_NM + i) as f64;
                    if nm < low {
                        *v = first;
                    } else if nm > high {
                        *v = last;
                    }
                }
                return grid;
            }
        }
        (0..COUNT).map(|i| self.straight(values, (FIRST_NM + i) as f64)).collect()
    }

    fn straight(&self, values: &[f64], nm: f64) -> f64 {
        let after = self.wavelengths_nm.partition_point(|w| *w < nm);
        if after == 0 {
            return values[0];
        }
        if after == values.len() {
            return values[after - 1];
        }
        let (a, b) = (self.wavelengths_nm[after - 1], self.wavelengths_nm[after]);
        let share = (nm - a) / (b - a);
        values[after - 1] * (1.0 - share) + values[after] * share
    }
}
