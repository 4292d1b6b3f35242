//! What the command line hands in: the clock, the programs, the home folder, who is asking.

use std::path::PathBuf;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

use crate::fault::{Fault, Outcome};
use crate::git::{GitError, Moment, UserGit};
use crate::ids::PersonId;
use crate::signing::Toolbox;

/// Everything from outside the book that an operation may need.
#[derive(Clone, Debug)]
pub struct Surroundings<'a> {
    /// The time, for stamps and for what is late; it decides no verdict.
    pub now: Timestamp,
    /// The time zone in which today is meant.
    pub zone: TimeZone,
    /// The programs that hold keys.
    pub toolbox: Toolbox<'a>,
    /// The user's own git.
    pub git: UserGit,
    /// The person's home folder, where keys usually lie.
    pub home: Option<PathBuf>,
    /// Who is asking, where it was said on the command line.
    pub person: Option<PersonId>,
    /// With which key, where it was said on the command line.
    pub key: Option<PathBuf>,
    /// True to check everything and write nothing.
    pub dry_run: bool,
    /// What tells this build of the program from any other: what another one worked out is worked out again.
    pub build: String,
}

impl Surroundings<'_> {
    /// The time as it stands in statements: RFC 3339, UTC, whole seconds.
    #[must_use]
    pub(crate) fn stamp(&self) -> String {
        let seconds = Timestamp::from_second(self.now.as_second()).unwrap_or(self.now);
        seconds.to_string()
    }

    /// As [`Surroundings::stamp`], for a statement that is about to be signed.
    ///
    /// # Errors
    /// `clock-wrong`, where no record can carry the time.
    pub(crate) fn stamp_to_sign(&self) -> Outcome<String> {
        let stamp = self.stamp();
        if (2000..2200).contains(&self.today().year()) {
            return Ok(stamp);
        }
        Err(Box::new(
            Fault::io("clock-wrong", format!("this machine's clock says {stamp}, which cannot be right"))
                .fix("set the clock, then run the command again; nothing was signed"),
        ))
    }

    /// Today's date.
    #[must_use]
    pub(crate) fn today(&self) -> Date {
        self.zone.to_datetime(self.now).date()
    }

    /// The day on which something happened: the one that was given, or today.
    ///
    /// # Errors
    /// `date-future`, for a day that has not come yet.
    pub(crate) fn happened(&self, day: Option<Date>) -> Outcome<Date> {
        let today = self.today();
        match day.filter(|day| *day > today) {
            None => Ok(day.unwrap_or(today)),
            Some(day) => Err(Box::new(
                Fault::usage("date-future", format!("{day} is in the future; today is {today}"))
                    .fix("record it on the day it happens, or give the right day with --date YYYY-MM-DD"),
            )),
        }
    }

    /// The time in UTC, for stamps of calendar entries.
    #[must_use]
    pub(crate) fn now_utc(&self) -> DateTime {
        TimeZone::UTC.to_datetime(self.now)
    }

    /// The time as a commit carries it.
    #[must_use]
    pub(crate) fn moment(&self) -> Moment {
        let offset = self.zone.to_offset(self.now).seconds() / 60;
        Moment { seconds: self.now.as_second(), offset_minutes: offset }
    }
}

/// A random text of 32 hexadecimal digits, so that no two statements are the same.
///
/// # Errors
/// `no-randomness`, where the system gives none.
pub(crate) fn nonce() -> Outcome<String> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes)
        .map_err(|e| Fault::io("no-randomness", format!("the system gives no random numbers: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

impl From<GitError> for Box<Fault> {
    fn from(error: GitError) -> Self {
        Box::new(Fault::io(error.code(), error.to_string()).fix(error.remedy()))
    }
}

impl From<GitError> for Vec<Fault> {
    fn from(error: GitError) -> Self {
        Box::<Fault>::from(error).into()
    }
}
