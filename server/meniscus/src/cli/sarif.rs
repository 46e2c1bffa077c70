//! Findings as the Static Analysis Results Interchange Format has them (SARIF 2.1.0, OASIS Standard).

use super::check::place;
use ide::{Finding, Severity};
use ropey::Rope;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;

/// A log of one run, which findings are added to.
#[derive(Default)]
pub(super) struct Log {
    rules: Vec<&'static str>,
    results: Vec<Value>,
}

impl Log {
    /// Adds a finding of a file.
    pub(super) fn add(&mut self, file: &Path, finding: &Finding, text: &Rope) {
        let known = self.rules.iter().position(|rule| *rule == finding.check);
        let rule = known.unwrap_or_else(|| {
            self.rules.push(finding.check);
            self.rules.len() - 1
        });
        let related = finding.related.iter().map(|(range, why)| {
            let mut location = location(file, range, text);
            location["message"] = json!({ "text": why });
            location
        });
        let mut result = json!({
            "ruleId": finding.check,
            "ruleIndex": rule,
            "level": level(finding.severity),
            "message": { "text": finding.message },
            "locations": [location(file, &finding.range, text)],
        });
        let related: Vec<Value> = related.collect();
        if !related.is_empty() {
            result["relatedLocations"] = Value::Array(related);
        }
        self.results.push(result);
    }

    /// The whole log.
    pub(super) fn document(self) -> Value {
        let rules: Vec<Value> = self.rules.iter().map(|name| rule(name)).collect();
        json!({
            "version": "2.1.0",
            "runs": [{
                "tool": { "driver": {
                    "name": "Meniscus",
                    "semanticVersion": env!("CARGO_PKG_VERSION"),
                    "rules": rules,
                } },
                "columnKind": "unicodeCodePoints",
                "results": self.results,
            }],
        })
    }
}

/// A check, with what `meniscus explain` says of it; a mistake in a file beside the plans has its name only.
fn rule(name: &str) -> Value {
    let Some(check) = checks::find(name) else {
        return json!({ "id": name });
    };
    json!({
        "id": name,
        "shortDescription": { "text": check.title() },
        "help": { "text": check.doc, "markdown": check.doc },
        "defaultConfiguration": { "level": level(check.severity) },
    })
}

fn level(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Information | Severity::Hint => "note",
    }
}

fn location(file: &Path, range: &std::ops::Range<usize>, text: &Rope) -> Value {
    let (start, end) = place(range, text);
    json!({ "physicalLocation": {
        "artifactLocation": { "uri": uri(file) },
        "region": {
            "startLine": start.0,
            "startColumn": start.1,
            "endLine": end.0,
            "endColumn": end.1,
        },
    } })
}

/// A path as a reference by RFC 3986: all but unreserved characters and slashes in hexadecimal.
fn uri(path: &Path) -> String {
    let text = path
        .to_string_lossy()
        .replace(std::path::MAIN_SEPARATOR, "/");
    let mut out = String::new();
    if path.is_absolute() {
        out.push_str(if text.starts_with('/') {
            "file://"
        } else {
            "file:///"
        });
    }
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use ide::Document;

    /// The schema of the OASIS Standard; its notice lies beside it.
    const SCHEMA: &str = include_str!("../../../../tests/sarif/sarif-schema-2.1.0.json");

    fn log(text: &str) -> Value {
        let document = Document::new(text);
        let mut log = Log::default();
        for finding in document.findings() {
            log.add(Path::new("a folder/µ #1.prep"), &finding, document.rope());
        }
        log.document()
    }

    #[test]
    fn a_log_is_what_the_schema_asks_for() {
        let mut schemas = boon::Schemas::new();
        let mut compiler = boon::Compiler::new();
        let schema = serde_json::from_str(SCHEMA).expect("a schema");
        compiler.add_resource("sarif.json", schema).expect("added");
        let schema = compiler
            .compile("sarif.json", &mut schemas)
            .expect("compiled");
        let slips = include_str!("../../../../examples/slips.prep");
        for text in [slips, "", "plan A\n"] {
            let log = log(text);
            if let Err(wrong) = schemas.validate(&log, schema) {
                panic!("{wrong}");
            }
        }
        let mut broken = log(slips);
        broken["runs"][0]["results"][0]["level"] = json!("grave");
        let wrong = schemas.validate(&broken, schema);
        assert!(wrong.is_err(), "the schema is not looked at");
    }

    #[test]
    fn every_result_has_its_rule_and_its_place() {
        let log = log("plan A\nmaterials\n  µ: toluene, 2,5 mL\nsteps\n  add µ\n");
        let run = &log["runs"][0];
        let results = run["results"].as_array().expect("results");
        let comma = results
            .iter()
            .find(|result| result["ruleId"] == "decimal-comma");
        let comma = comma.expect("a decimal comma");
        assert_eq!(comma["level"], "error");
        let rule = comma["ruleIndex"].as_u64().expect("a rule");
        let rule = &run["tool"]["driver"]["rules"][usize::try_from(rule).expect("small")];
        assert_eq!(rule["id"], "decimal-comma");
        let place = &comma["locations"][0]["physicalLocation"];
        // Columns count characters from 1, and the end is beyond the last (SARIF 2.1.0, 3.30.6 and 3.30.8).
        assert_eq!(
            (
                &place["region"]["startLine"],
                &place["region"]["startColumn"]
            ),
            (&json!(3), &json!(15))
        );
        assert_eq!(
            place["artifactLocation"]["uri"],
            "a%20folder/%C2%B5%20%231.prep"
        );
    }
}
