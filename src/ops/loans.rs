//! Test panels that are out on loan: where each is, when it is due back, and whether that day has passed.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::ids::RequestId;
use crate::model::snapshot::Snapshot;

/// From how many days before its day a loan is asked after. Common practice, no source.
const ASK_AFTER_DAYS: i64 = 7;

/// A test panel that is out on loan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Loan {
    /// The request.
    pub request: RequestId,
    /// Where it went.
    pub address: String,
    /// The day by which it must be back.
    pub return_by: Date,
    /// Days until then; below 0 where it is overdue.
    pub days_left: i64,
}

impl Loan {
    /// True where its day has passed.
    #[must_use]
    pub(crate) fn is_overdue(&self) -> bool {
        self.days_left < 0
    }

    /// True where somebody should ask after it.
    #[must_use]
    pub(crate) fn is_pressing(&self) -> bool {
        self.days_left <= ASK_AFTER_DAYS
    }

    /// In a line: `test panel first is due back on 2026-10-09, in 3 days`.
    #[must_use]
    pub(crate) fn in_words(&self) -> String {
        let when = match self.days_left {
            0 => "today".to_owned(),
            days @ 1.. => format!("in {}", crate::words::counted(days as usize, "day", "days")),
            days => {
                format!("OVERDUE by {}", crate::words::counted(days.unsigned_abs() as usize, "day", "days"))
            }
        };
        format!("test panel {} is due back on {}, {when}", self.request, self.return_by)
    }
}

/// The test panels of a job that are out on loan, the first that is due first.
#[must_use]
pub(crate) fn loans(project: &Snapshot, today: Date) -> Vec<Loan> {
    let of = |request: &crate::model::request::Request| {
        let return_by = request.due_back()?;
        Some(Loan {
            request: request.id.clone(),
            address: request.address.clone(),
            return_by,
            days_left: i64::from((return_by - today).get_days()),
        })
    };
    let mut all: Vec<Loan> = project.requests.values().filter_map(of).collect();
    all.sort_by_key(|loan| loan.return_by);
    all
}
