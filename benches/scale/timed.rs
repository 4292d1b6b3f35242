//! Two ways to do the like, in turns, and how long each took.

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What one line of the table says.
pub(crate) struct Measured {
    pub(crate) what: &'static str,
    pub(crate) beside: String,
    pub(crate) jobs: usize,
    /// The most that ours may take, in times of the yardstick's; a bound of megabytes where `unit` says so.
    pub(crate) aim: f64,
    pub(crate) unit: Unit,
    pub(crate) ours: Vec<f64>,
    pub(crate) theirs: Vec<f64>,
}

/// What is counted.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Unit {
    /// Milliseconds, held against the yardstick's.
    Milliseconds,
    /// Megabytes, held against the aim itself.
    Megabytes,
}

impl Measured {
    pub(crate) fn ratio(&self) -> f64 {
        match self.unit {
            Unit::Milliseconds => middle(&self.ours) / middle(&self.theirs),
            Unit::Megabytes => middle(&self.ours),
        }
    }

    pub(crate) fn is_met(&self) -> bool {
        self.ratio() <= self.aim
    }
}

/// The middle one of some numbers.
pub(crate) fn middle(of: &[f64]) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

/// How long a command takes, in milliseconds. It must end well. One that tells its processor time is taken at its word.
pub(crate) fn run(command: &mut Command) -> f64 {
    let start = Instant::now();
    let done = command.stdout(Stdio::null()).stderr(Stdio::piped()).output().unwrap();
    let took = milliseconds(start.elapsed());
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{command:?}: {said}");
    if command.get_program() != "bash" {
        return took;
    }
    let times = said.lines().last().unwrap().split(' ');
    times.map(|seconds| seconds.parse::<f64>().unwrap() * 1000.0).sum()
}

pub(crate) fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1000.0
}

/// The most memory that a command holds at once, in megabytes, as the kernel counts it.
pub(crate) fn peak_megabytes(command: &mut Command) -> f64 {
    let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0.0_f64;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let peak = text
            .lines()
            .find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
        most = most.max(peak.unwrap_or(0.0) / 1000.0);
        std::thread::sleep(Duration::from_millis(2));
    }
    most
}
