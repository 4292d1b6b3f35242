//! Which connector of the shop's list joins a lead at one of its ends, and why the others do not.

use std::fmt;

use super::vocabulary::Place;
use super::wire_stock::{Connector, LeadEnd};
use crate::units::Amperes;

/// What is asked of a connector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ConnectorRequirement {
    /// The end of the lead.
    pub at: LeadEnd,
    /// How many conductors it joins.
    pub conductors: usize,
    /// The largest current of one of them, amperes: the common's.
    pub conductor_a: Amperes,
    /// How wet the place is.
    pub place: Place,
}

/// Why a connector was passed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum ConnectorAgainst {
    /// It is for the other end of a lead.
    End(LeadEnd),
    /// It joins fewer conductors.
    Conductors {
        /// How many it joins.
        joins: u32,
        /// How many are needed.
        needed: usize,
    },
    /// One conductor would carry more than its supplier allows.
    Current {
        /// What it would carry, amperes.
        would_a: Amperes,
        /// What it may, amperes.
        may_a: Amperes,
    },
    /// It is rated for a drier place.
    Place(Place),
}

impl fmt::Display for ConnectorAgainst {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::End(end) => write!(f, "it is not for use {}", end.word().replace('-', " ")),
            Self::Conductors { joins, needed } => {
                write!(f, "it joins {joins} conductors, {needed} are needed")
            }
            Self::Current { would_a, may_a } => {
                write!(f, "one conductor would carry {would_a}, it may carry {may_a}")
            }
            Self::Place(place) => write!(f, "it is rated for a {place} place only"),
        }
    }
}

/// Every reason against a connector; none where it suits.
#[must_use]
pub(crate) fn against(connector: &Connector, asked: &ConnectorRequirement) -> Vec<ConnectorAgainst> {
    let mut against = Vec::new();
    if !connector.at.contains(&asked.at) {
        against.push(ConnectorAgainst::End(asked.at));
    }
    if (connector.conductors as usize) < asked.conductors {
        against.push(ConnectorAgainst::Conductors { joins: connector.conductors, needed: asked.conductors });
    }
    // Rounding of sums is no overload.
    if asked.conductor_a.get() > connector.conductor_a.get() * (1.0 + 1e-9) {
        against.push(ConnectorAgainst::Current { would_a: asked.conductor_a, may_a: connector.conductor_a });
    }
    if connector.place < asked.place {
        against.push(ConnectorAgainst::Place(connector.place));
    }
    against
}

/// The first connector of the list that suits.
///
/// # Errors
/// None suits: each by its id with every reason against it, in the shop's order.
pub(crate) fn choose<'a>(
    connectors: &'a [Connector],
    asked: &ConnectorRequirement,
) -> Result<&'a Connector, Vec<(String, Vec<ConnectorAgainst>)>> {
    let mut passed_over = Vec::new();
    for connector in connectors {
        let reasons = against(connector, asked);
        if reasons.is_empty() {
            return Ok(connector);
        }
        passed_over.push((connector.id.clone(), reasons));
    }
    Err(passed_over)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn connector(id: &str, at: LeadEnd, conductors: u32, amps: f64, place: Place) -> Connector {
        Connector {
            id: id.into(),
            name: id.into(),
            at: vec![at],
            conductors,
            conductor_a: Amperes(amps),
            place,
            note: None,
        }
    }

    #[test]
    fn the_first_that_suits_is_taken_and_every_reason_is_said() {
        let list = [
            connector("two", LeadEnd::AtPanel, 2, 10.0, Place::Wet),
            connector("weak", LeadEnd::AtPanel, 5, 2.0, Place::Dry),
            connector("three", LeadEnd::AtPanel, 3, 5.0, Place::Wet),
            connector("five", LeadEnd::AtPanel, 5, 10.0, Place::Wet),
        ];
        let asked = ConnectorRequirement {
            at: LeadEnd::AtPanel,
            conductors: 3,
            conductor_a: Amperes(5.0),
            place: Place::Damp,
        };
        assert_eq!(choose(&list, &asked).map(|c| c.id.as_str()), Ok("three"), "exactly its largest current");
        let reasons = choose(&list[..2], &asked).expect_err("neither suits");
        assert_eq!(reasons[0].1, [ConnectorAgainst::Conductors { joins: 2, needed: 3 }]);
        assert_eq!(reasons[1].1.len(), 2, "too weak and too dry: {reasons:?}");
        let other_end = ConnectorRequirement { at: LeadEnd::AtSource, ..asked };
        assert!(choose(&list, &other_end).is_err());
    }
}
