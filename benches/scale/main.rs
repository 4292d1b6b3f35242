//! Every yardstick of speed in one run: a made book of each size, each verb beside stock tools doing the like on the same
//! files, in turns. See `benches/README.md`.
//!
//! `benches/run [--jobs N,N…] [--rounds N] [--seed N] [--into DIR] [--only TEXT] [--program FILE] [--time clock|processor]`
#![allow(clippy::unwrap_used)] // a bench that cannot set its stage has to stop

mod book;
#[path = "../../tests/dice/mod.rs"]
#[allow(dead_code)] // tests throw more of them
mod dice;
mod report;
mod story;
mod timed;
mod yardsticks;

use std::path::PathBuf;
use std::time::Instant;

use story::{JOBS, Workshop};
use yardsticks::Place;

/// What was asked for.
struct Asked {
    jobs: Vec<usize>,
    rounds: usize,
    seed: u64,
    into: Option<PathBuf>,
    only: String,
    /// The program that is measured: by default the one that was built with this bench.
    program: String,
    /// Processor time, which other work on the machine does not lengthen, and not the time by the clock.
    processor: bool,
}

impl Asked {
    fn read() -> Asked {
        let mut asked = Asked {
            jobs: vec![200, 2_000],
            rounds: 5,
            seed: 20_261_102,
            into: None,
            only: String::new(),
            program: env!("CARGO_BIN_EXE_underlit").to_owned(),
            processor: false,
        };
        let mut words = std::env::args().skip(1).filter(|word| word != "--bench");
        while let Some(word) = words.next() {
            let value = words.next().unwrap_or_else(|| panic!("{word} needs a value"));
            match word.as_str() {
                "--jobs" => {
                    asked.jobs = value.split(',').map(|n| n.parse().expect("a number of jobs")).collect()
                }
                "--rounds" => asked.rounds = value.parse().expect("a number of rounds"),
                "--seed" => asked.seed = value.parse().expect("a seed"),
                "--into" => asked.into = Some(value.into()),
                "--only" => asked.only = value,
                "--program" => asked.program = value,
                "--time" => asked.processor = value == "processor",
                _ => {
                    panic!("{word} is not known: --jobs, --rounds, --seed, --into, --only, --program, --time")
                }
            }
        }
        asked
    }
}

fn main() {
    let asked = Asked::read();
    let scratch = tempfile::tempdir().unwrap();
    let folder = asked.into.clone().unwrap_or_else(|| scratch.path().to_owned());
    std::fs::create_dir_all(&folder).unwrap();
    let workshop = Workshop::new(&folder, asked.seed, &asked.program, asked.processor);
    let mut measured = Vec::new();
    for jobs in &asked.jobs {
        let made = folder.join(format!("book-{jobs}"));
        if !made.exists() {
            let start = Instant::now();
            let shop = workshop.shop();
            let templates: Vec<_> = JOBS.iter().map(|job| workshop.template(&shop, job)).collect();
            book::make(&workshop, &shop, &templates, *jobs, asked.seed);
            workshop.tidy();
            report::say(&format!("made a book of {jobs} jobs in {:.0} s", start.elapsed().as_secs_f64()));
        }
        let place = Place::new(&workshop, &made, *jobs, asked.rounds);
        measured.extend(yardsticks::all(&place, &asked.only));
    }
    report::write(&measured);
}
