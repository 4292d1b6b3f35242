//! underlit: hands the arguments to the library and leaves with its exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    underlit::cli::run()
}
