//! How many drivers a breaker holds when all are switched on together, by what their makers state.

use super::super::tables::{Column, Table};
use super::amounts::amperes;
use crate::job::pack::data::{DriverData, PackData};

/// The table of breakers; none where no driver of the job states what one holds.
pub(super) fn breakers(data: &PackData) -> Option<Table> {
    let mut named: Vec<&str> =
        data.drivers.iter().flat_map(|d| &d.breakers).map(|b| b.breaker.as_str()).collect();
    named.sort_unstable();
    named.dedup();
    let rows: Vec<Vec<String>> = named.into_iter().map(|breaker| row(data, breaker)).collect();
    (!rows.is_empty()).then(|| Table {
        heading: "Breakers: all drivers switched on together (makers' figures; the licensed person decides)"
            .into(),
        columns: vec![
            Column::words("Breaker"),
            Column::sentences("Holds at the most"),
            Column::sentences("This job's drivers take"),
        ],
        rows,
    })
}

fn row(data: &PackData, breaker: &str) -> Vec<String> {
    let most = |driver: &DriverData| driver.breakers.iter().find(|b| b.breaker == breaker).map(|b| b.most);
    let mut models: Vec<(&str, i64)> =
        data.drivers.iter().filter_map(|d| Some((d.model.id.as_str(), most(d)?))).collect();
    models.sort_unstable();
    models.dedup();
    let holds: Vec<String> = models.iter().map(|(id, most)| format!("{most} × {id}")).collect();
    let silent = data.drivers.iter().any(|driver| most(driver).is_none());
    // Each driver takes its share of a breaker: together they need that many, rounded up.
    let share: f64 =
        data.drivers.iter().filter_map(|d| Some(data.times(d.number) as f64 / most(d)? as f64)).sum();
    let needs = match silent {
        true => "not known for every driver: ask their makers".to_owned(),
        false => match (share - 1e-9).ceil().max(1.0) as i64 {
            1 => "one, if nothing else is on it".to_owned(),
            many => format!("{many} at the least, if nothing else is on them"),
        },
    };
    vec![breaker.to_owned(), format!("{}, of one model alone", holds.join(", or ")), needs]
}

/// A driver's current in the moment it is switched on, in words; empty where its maker does not say.
pub(super) fn inrush(driver: &DriverData) -> String {
    match (driver.inrush_ma, driver.inrush_half_us) {
        (Some(peak), Some(half)) => format!("\ninrush {} for {half} µs", amperes(peak)),
        _ => String::new(),
    }
}
