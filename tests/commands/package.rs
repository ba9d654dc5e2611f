//! What comes with the program: completions, manual pages, and an example in the help of every command.

use std::process::Command;

use clap::CommandFactory as _;
use underover::commands::CommandLine;

const PROGRAM: &str = env!("CARGO_BIN_EXE_underover");

fn run(words: &[&str]) -> (bool, String) {
    let output = Command::new(PROGRAM)
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(words)
        .output()
        .unwrap();
    (
        output.status.success(),
        String::from_utf8(output.stdout).unwrap() + &String::from_utf8_lossy(&output.stderr),
    )
}

/// The words of every command, with those of the commands inside them; hidden ones are left out.
fn commands(of: &clap::Command, before: &[String]) -> Vec<Vec<String>> {
    let seen = of.get_subcommands().filter(|command| !command.is_hide_set() && command.get_name() != "help");
    seen.flat_map(|command| {
        let words: Vec<String> = before.iter().cloned().chain([command.get_name().to_owned()]).collect();
        [vec![words.clone()], commands(command, &words)].concat()
    })
    .collect()
}

#[test]
fn the_help_of_every_command_has_an_example_of_itself() {
    let all = commands(&CommandLine::command(), &[]);
    assert!(all.len() > 12, "{all:?}");
    for words in all {
        let asked: Vec<&str> = words.iter().map(String::as_str).chain(["--help"]).collect();
        let (is_well, text) = run(&asked);
        let example = format!("underover {}", words.join(" "));
        let examples = text.rsplit_once("Example").map_or("", |(_, examples)| examples);
        assert!(is_well && examples.contains(&example), "{example}: no example of it in its help\n{text}");
    }
}

#[test]
fn every_shell_gets_a_script_that_names_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let (is_well, script) = run(&["completions", shell]);
        assert!(is_well, "{script}");
        for words in commands(&CommandLine::command(), &[]).iter().filter(|words| words.len() == 1) {
            assert!(script.contains(&words[0]), "{shell}: {} is missing", words[0]);
        }
    }
    let (is_well, text) = run(&["completions", "bsh"]);
    assert!(!is_well && text.contains("bash"), "{text}");
}

/// bash itself reads the script and completes with it.
#[test]
fn bash_completes_a_command() {
    let line = format!(
        "source <({PROGRAM} completions bash) && COMP_WORDS=(underover swa) COMP_CWORD=1 && \
         _underover underover swa underover && echo \"${{COMPREPLY[@]}}\""
    );
    match Command::new("bash").args(["-c", &line]).output() {
        Ok(output) => assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "swaps", "{output:?}"),
        Err(error) => eprintln!("no bash here ({error}): its completions were not tried"),
    }
}

#[test]
fn the_manual_has_a_page_for_every_command() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("man1");
    let (is_well, text) = run(&["manual", "--out", &out.display().to_string()]);
    assert!(is_well, "{text}");
    for words in commands(&CommandLine::command(), &[]).iter().filter(|words| words.len() == 1) {
        let page = std::fs::read_to_string(out.join(format!("underover-{}.1", words[0]))).unwrap();
        assert!(page.contains(".TH") && page.contains("xample"), "{page}");
    }
    let (is_well, page) = run(&["manual"]);
    assert!(is_well && page.contains("Audition the order of picture effects"), "{page}");
    let file = folder.path().join("a file");
    std::fs::write(&file, "").unwrap();
    let (is_well, text) = run(&["manual", "--out", &file.display().to_string()]);
    assert!(!is_well && text.contains("a file") && text.contains("name one that you may write"), "{text}");
}
