//! The `underover` program: reads the command line, runs one command, reports one error.

use std::process::ExitCode;

use clap::Parser as _;
use underover::base::shown::shown_error;
use underover::commands::{CommandLine, WrongWords, note};

fn main() -> ExitCode {
    let line = match CommandLine::try_parse() {
        Ok(line) => line,
        Err(error) => {
            let said = error.to_string();
            // The words at fault are repeated: they are shown as any others.
            if error.use_stderr() && shown_error(&said) != said {
                note(said.trim_end());
                return ExitCode::from(2);
            }
            error.exit()
        }
    };
    match line.run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            note(&format!("error: {error}"));
            ExitCode::from(if error.is::<WrongWords>() { 2 } else { 1 })
        }
    }
}
