//! What the README shows is what the program prints.

use std::path::Path;
use std::process::Command;

/// Every `$ meniscus …` of the README with the lines that it shows below.
fn shown(readme: &str) -> Vec<(String, Vec<&str>)> {
    let mut shown = Vec::new();
    let mut lines = readme.lines();
    while let Some(line) = lines.next() {
        if let Some(command) = line.strip_prefix("$ meniscus ") {
            shown.push((
                command.to_owned(),
                lines.by_ref().take_while(|line| *line != "```").collect(),
            ));
        }
    }
    shown
}

#[test]
fn the_readme_shows_real_output() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let readme = std::fs::read_to_string(root.join("README.md")).expect("a README");
    let shown = shown(&readme);
    assert!(
        shown.len() >= 3,
        "the README shows {} commands",
        shown.len()
    );
    for (command, lines) in shown {
        // `| head -n 2` is what a shell would cut.
        let words = command
            .split(" | ")
            .next()
            .unwrap_or_default()
            .replace('"', "");
        let words = words.replace("12 mmol", "12_mmol");
        let arguments = words.split(' ').map(|word| word.replace('_', " "));
        let output = Command::new(e2e::meniscus())
            .args(arguments)
            .current_dir(&root)
            .output()
            .expect("it runs");
        let printed = String::from_utf8_lossy(&output.stdout).into_owned();
        let mut rest = printed.as_str();
        // Between two lines that are not shown stands an ellipsis.
        for line in lines.iter().filter(|line| **line != "…") {
            let at = rest
                .find(line)
                .unwrap_or_else(|| panic!("`{command}` does not print\n{line}\nbut\n{printed}"));
            rest = &rest[at + line.len()..];
        }
    }
}
