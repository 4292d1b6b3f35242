//! What a conductor's size means: its resistance by the published tables, at its temperature.
//!
//! Copper only, unless a resistance is given. The tables state the largest resistance that a conductor of the size may
//! have, so a drop from them is the largest to expect, not the measured one.

use super::vocabulary::WireTable;

/// Feet in a thousand feet expressed in metres: NEC Table 8 is per 1000 ft, and 1 ft is 0.3048 m by definition.
const METRES_PER_KILOFOOT: f64 = 304.8;

/// NEC Chapter 9 Table 8, copper, stranded, uncoated, ohms per 1000 ft at 75 °C.
///
/// Seen in two reprints of the table. Some reprints headed "stranded" carry the solid values (18 AWG 7.77).
#[allow(clippy::approx_constant, reason = "3.14 is the table's value for 14 AWG")]
const AWG: &[(&str, f64)] =
    &[("18 AWG", 7.95), ("16 AWG", 4.99), ("14 AWG", 3.14), ("12 AWG", 1.98), ("10 AWG", 1.24)];

/// IEC 60228 Table 2, class 2 (stranded), plain copper, ohms per kilometre at 20 °C. Seen in two reprints.
const CLASS_2: &[(&str, f64)] = &[
    ("0.5 mm2", 36.0),
    ("0.75 mm2", 24.5),
    ("1 mm2", 18.1),
    ("1.5 mm2", 12.1),
    ("2.5 mm2", 7.41),
    ("4 mm2", 4.61),
];

/// IEC 60228 Table 3, class 5 (flexible), plain copper, ohms per kilometre at 20 °C. Seen in two reprints.
const CLASS_5: &[(&str, f64)] = &[
    ("0.5 mm2", 39.0),
    ("0.75 mm2", 26.0),
    ("1 mm2", 19.5),
    ("1.5 mm2", 13.3),
    ("2.5 mm2", 7.98),
    ("4 mm2", 4.95),
];

/// The temperature for which a table states its values, degrees Celsius.
#[must_use]
pub(crate) fn table_temperature_c(table: WireTable) -> f64 {
    match table {
        WireTable::Awg => 75.0,
        WireTable::Class2 | WireTable::Class5 => 20.0,
    }
}

/// Change of resistance per kelvin at the table's own temperature: 0.00323 at 75 °C by note 2 of NEC Table 8,
/// 0.00393 at 20 °C for annealed copper (IEC 60028).
fn coefficient_per_k(table: WireTable) -> f64 {
    match table {
        WireTable::Awg => 0.00323,
        WireTable::Class2 | WireTable::Class5 => 0.00393,
    }
}

/// The largest overcurrent protection of a small copper conductor, amperes: NEC 240.4(D), seen in a public table. None
/// for metric sizes, whose protection depends on how they are laid.
#[must_use]
pub(crate) fn overcurrent_limit_a(conductor: Conductor) -> Option<f64> {
    small_conductor_a(conductor.size)
}

/// Copper's change of resistance per kelvin at a temperature: IEC 60028 gives 0.00393 at 20 °C, on one straight line.
fn copper_per_k(at_c: f64) -> f64 {
    1.0 / (1.0 / 0.00393 - 20.0 + at_c)
}

/// What a conductor may carry for long, and by which table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ampacity {
    /// The current, amperes.
    pub amps: f64,
    /// Where it is from.
    pub basis: &'static str,
}

/// By size: what a general conductor of it may carry where nothing better is known of how it is laid.
fn ampacity_a(table: WireTable, size: &str) -> Option<f64> {
    let metric = |row: [f64; 6]| CLASS_2.iter().position(|(name, _)| *name == size).map(|at| row[at]);
    match table {
        WireTable::Awg => small_conductor_a(size),
        WireTable::Class2 => metric([3.0, 6.0, 10.0, 14.5, 19.5, 25.0]),
        WireTable::Class5 => metric([3.0, 6.0, 10.0, 15.0, 20.0, 25.0]),
    }
}

fn ampacity_basis(table: WireTable) -> &'static str {
    match table {
        WireTable::Awg => "NEC 240.4(D), small copper conductors (seen in a public table)",
        WireTable::Class2 => {
            "up to 1 mm2 as flexible cord (seen in public tables), above it IEC 60364-5-52 method A1 in an insulated wall at 30 °C (1.5 mm2 seen, the others from memory)"
        }
        WireTable::Class5 => {
            "flexible cord such as H05VV-F at 30 °C, as published for general use (seen in public tables; 4 mm2 from memory)"
        }
    }
}

fn small_conductor_a(size: &str) -> Option<f64> {
    match size {
        "18 AWG" => Some(7.0),
        "16 AWG" => Some(10.0),
        "14 AWG" => Some(15.0),
        "12 AWG" => Some(20.0),
        "10 AWG" => Some(30.0),
        _ => None,
    }
}

fn rows(table: WireTable) -> &'static [(&'static str, f64)] {
    match table {
        WireTable::Awg => AWG,
        WireTable::Class2 => CLASS_2,
        WireTable::Class5 => CLASS_5,
    }
}

/// One size of one table. Sizes of a table are in order from thin to thick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conductor {
    table: WireTable,
    size: &'static str,
    ohm_per_m: f64,
    /// The temperature for which that is stated, and its change per kelvin there.
    at_c: f64,
    per_k: f64,
}

impl Conductor {
    /// Every size of a table, from thin to thick.
    pub fn all(table: WireTable) -> impl Iterator<Item = Conductor> {
        let metres = match table {
            WireTable::Awg => METRES_PER_KILOFOOT,
            WireTable::Class2 | WireTable::Class5 => 1000.0,
        };
        let (at_c, per_k) = (table_temperature_c(table), coefficient_per_k(table));
        rows(table).iter().map(move |&(size, ohms)| Conductor {
            table,
            size,
            ohm_per_m: ohms / metres,
            at_c,
            per_k,
        })
    }

    /// A conductor of which only its resistance is known, ohms per metre, at a temperature in degrees Celsius. It changes
    /// as copper's does: by 1/(T₀ + 234.4) per kelvin at T₀, which is 0.00393 at 20 °C (IEC 60028).
    #[must_use]
    pub(crate) fn given(ohm_per_m: f64, at_c: f64) -> Conductor {
        Conductor { table: WireTable::Class2, size: "as given", ohm_per_m, at_c, per_k: copper_per_k(at_c) }
    }

    /// The same size of a metal of this resistivity, ohms·mm² per metre, at a temperature in degrees Celsius.
    #[must_use]
    pub(crate) fn of_resistivity(self, ohm_mm2_per_m: f64, at_c: f64) -> Conductor {
        Conductor { ohm_per_m: ohm_mm2_per_m / self.area_mm2(), at_c, per_k: copper_per_k(at_c), ..self }
    }

    /// Its nominal area, mm²: of an AWG size π/4·(0.127 mm·92^((36 − n)/39))² (ASTM B258).
    #[must_use]
    pub(crate) fn area_mm2(self) -> f64 {
        let number = self.size.split(' ').next().and_then(|n| n.parse::<f64>().ok()).unwrap_or(f64::NAN);
        match self.table {
            WireTable::Awg => {
                std::f64::consts::FRAC_PI_4 * (0.127 * 92_f64.powf((36.0 - number) / 39.0)).powi(2)
            }
            WireTable::Class2 | WireTable::Class5 => number,
        }
    }

    /// What it may carry for long; none for a conductor of which only its resistance is known.
    #[must_use]
    pub(crate) fn ampacity(self) -> Option<Ampacity> {
        let amps = ampacity_a(self.table, self.size)?;
        Some(Ampacity { amps, basis: ampacity_basis(self.table) })
    }

    /// The size that a table names so, if it has it.
    #[must_use]
    pub fn find(table: WireTable, size: &str) -> Option<Conductor> {
        Conductor::all(table).find(|conductor| conductor.size == size)
    }

    /// The names of a table's sizes, from thin to thick.
    #[must_use]
    pub fn names(table: WireTable) -> Vec<&'static str> {
        rows(table).iter().map(|&(size, _)| size).collect()
    }

    /// The table that the size is of.
    #[must_use]
    pub(crate) fn table(self) -> WireTable {
        self.table
    }

    /// The size as its table names it: `16 AWG`, `1.5 mm2`.
    #[must_use]
    pub fn size(self) -> &'static str {
        self.size
    }

    /// Ohms per metre of one conductor at the given temperature, degrees Celsius: R·(1 + α·(T − T₀)).
    #[must_use]
    pub fn ohm_per_m_at(self, conductor_c: f64) -> f64 {
        self.ohm_per_m * (1.0 + self.per_k * (conductor_c - self.at_c))
    }
}
