//! What a conductor's size means: its resistance by the published tables, at its temperature.
//!
//! Copper only. The tables state the largest resistance that a conductor of the size may have, so a drop
//! from them is the largest to expect, not the measured one.

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
pub fn table_temperature_c(table: WireTable) -> f64 {
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

/// The largest overcurrent protection of a small copper conductor, amperes: NEC 240.4(D), from memory. None for
/// metric sizes, whose protection depends on how they are laid.
///
/// A plausibility check only: it says when a wire that is thick enough for its drop is too thin for its current.
#[must_use]
pub fn overcurrent_limit_a(conductor: Conductor) -> Option<f64> {
    match conductor.size {
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
}

impl Conductor {
    /// Every size of a table, from thin to thick.
    pub fn all(table: WireTable) -> impl Iterator<Item = Conductor> {
        let metres = match table {
            WireTable::Awg => METRES_PER_KILOFOOT,
            WireTable::Class2 | WireTable::Class5 => 1000.0,
        };
        rows(table).iter().map(move |&(size, ohms)| Conductor { table, size, ohm_per_m: ohms / metres })
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
    pub fn table(self) -> WireTable {
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
        self.ohm_per_m
            * (1.0 + coefficient_per_k(self.table) * (conductor_c - table_temperature_c(self.table)))
    }
}
