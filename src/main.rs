//! The `underover` program: reads the command line, runs one command, reports one error.

use std::process::ExitCode;

use clap::Parser as _;
use underover::commands::{CommandLine, WrongWords, note};

fn main() -> ExitCode {
    match CommandLine::parse().run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            note(&format!("error: {error}"));
            ExitCode::from(if error.is::<WrongWords>() { 2 } else { 1 })
        }
    }
}
