//! How much is said: profiles, single checks and comments, in the editor and on the command line.

use crate::cli::{out, run};
use e2e::Client;
use serde_json::{Value, json};
use std::fs;

const PLAN: &str = "\
plan A
scale 0.200 mmol ketone
materials
  ketone: acetophenone, 1.00 eq
  dmap: 4-dimethylaminopyridine, 10 mol%
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 100 mL flask
steps
  add ketone, dmap, thf
  evacuate flask for 5 min
";

const SMALL: &str = "too-small-to-measure";
const VACUUM: &str = "evacuated-with-solvent";

#[test]
fn settings_say_how_much_is_said_and_what_is_wrong_with_them_is_told_in_their_file() {
    let folder = tempfile::tempdir().unwrap();
    let uri = |name: &str| format!("file://{}", folder.path().join(name).display());
    let (plan, settings) = (uri("a.prep"), uri("meniscus.toml"));
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.open(&plan, PLAN);
    client.findings_become(&plan, &[SMALL]);

    let save = |client: &mut Client, text: &str| {
        fs::write(folder.path().join("meniscus.toml"), text).unwrap();
        client.notify(
            "workspace/didChangeWatchedFiles",
            json!({"changes": [{"uri": settings, "type": 2}]}),
        );
    };
    save(&mut client, "[checks]\nprofile = \"strict\"\n");
    client.findings_become(&plan, &[SMALL, VACUUM]);
    save(
        &mut client,
        "[checks]\nprofile = \"strict\"\ntoo-small-to-measure = \"off\"\n",
    );
    client.findings_become(&plan, &[VACUUM]);
    save(
        &mut client,
        "[checks]\nprofile = \"quiet\"\ntoo-small-to-measure = \"error\"\n",
    );
    let findings = client.findings_become(&plan, &[SMALL]);
    assert_eq!(findings[0]["severity"], 1);
    save(
        &mut client,
        "[checks]\nprofile = \"quiet\"\ntoo-smal-to-measure = \"off\"\n",
    );
    client.findings_become(&plan, &[]);
    let problems = client.findings_become(&settings, &["settings"]);
    assert_eq!(problems[0]["range"]["start"]["line"], 2, "{problems:?}");
    let message = problems[0]["message"].as_str().unwrap_or_default();
    assert!(message.contains(SMALL), "{message}");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_finding_is_allowed_by_a_comment_that_says_why() {
    let uri = "file:///nowhere/a.prep";
    let mut client = Client::start();
    let literals = json!({"codeActionLiteralSupport": {"codeActionKind": {"valueSet": []}}});
    client.initialize(&json!({"textDocument": {"codeAction": literals}}));
    client.open(uri, PLAN);
    let findings = client.findings_become(uri, &[SMALL]);
    let params = json!({
        "textDocument": {"uri": uri},
        "range": findings[0]["range"],
        "context": {"diagnostics": findings, "only": ["quickfix"]},
    });
    let actions = client.call("textDocument/codeAction", params).unwrap();
    let last = actions.as_array().unwrap().last().unwrap();
    assert_eq!(
        last["title"],
        json!(format!("Allow this here, with a reason: # allow {SMALL}"))
    );
    let edit = &last["edit"]["changes"][uri][0];
    client.change(
        uri,
        2,
        &[json!({"range": edit["range"], "text": edit["newText"]})],
    );
    client.findings_become(uri, &[SMALL, "allow-unclear"]);
    let end = json!({"line": 4, "character": 400});
    let why = json!({"range": {"start": end, "end": end}, "text": "no harm in more"});
    client.change(uri, 3, &[why]);
    client.findings_become(uri, &[]);
    assert_eq!(client.finish().code(), Some(0));
}

/// Kate asks with the range of the whole document and one finding, and applies all that it gets.
#[test]
fn who_takes_everything_is_given_the_first_fix_only() {
    let uri = "file:///nowhere/a.prep";
    let mut client = Client::start();
    let literals = json!({"codeActionLiteralSupport": {"codeActionKind": {"valueSet": []}}});
    client.initialize(&json!({"textDocument": {"codeAction": literals}}));
    // 0.200 mmol × 120.15 g/mol are 24.0 mg.
    let plan = PLAN.replace("acetophenone, 1.00 eq", "acetophenone, 1.00 eq, 30 mg");
    client.open(uri, &plan);
    let found = client.findings_become(uri, &["amounts-disagree", SMALL]);
    let findings = &found[..1];
    let mut titles = |range: Value| {
        let context = json!({"diagnostics": findings});
        let params = json!({"textDocument": {"uri": uri}, "range": range, "context": context});
        let actions = client.call("textDocument/codeAction", params).unwrap();
        let actions = actions.as_array().unwrap().clone();
        let title = |action: &Value| action["title"].as_str().unwrap_or_default().to_owned();
        actions.iter().map(title).collect::<Vec<_>>()
    };
    let end = json!({"line": 11, "character": 0});
    let all = titles(json!({"start": {"line": 0, "character": 0}, "end": end}));
    let here = titles(findings[0]["range"].clone());
    assert_eq!(all, here[..1]);
    assert!(here.len() > 2 && here[2].starts_with("Allow"), "{here:?}");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_profile_of_the_command_line_rules_over_the_settings() {
    let folder = tempfile::tempdir().unwrap();
    let settings = "[checks]\nprofile = \"quiet\"\n";
    fs::write(folder.path().join("meniscus.toml"), settings).unwrap();
    fs::write(folder.path().join("a.prep"), PLAN).unwrap();
    let said = |more: &[&str]| {
        let arguments = [&["check", "a.prep", "--format", "json"], more].concat();
        let report: Value = serde_json::from_str(&out(&run(folder.path(), &arguments))).unwrap();
        let findings = report["findings"].as_array().unwrap().clone();
        findings
            .iter()
            .map(|finding| finding["check"].as_str().unwrap_or_default().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(said(&[]), [""; 0]);
    assert_eq!(said(&["--profile", "normal"]), [SMALL]);
    assert_eq!(said(&["--profile", "strict"]), [SMALL, VACUUM]);
    let page = out(&run(folder.path(), &["explain", VACUUM]));
    assert!(page.contains("in the profile strict"), "{page}");
}

#[test]
fn a_finding_leads_to_where_its_check_is_described_for_who_says_where_that_is() {
    let uri = "file:///nowhere/a.prep";
    let href = |supported: bool| {
        let mut client = Client::start();
        let findings = json!({"publishDiagnostics": {"codeDescriptionSupport": supported}});
        let params = json!({
            "processId": null,
            "rootUri": null,
            "capabilities": {"textDocument": findings},
            "initializationOptions": {"reference": "file:///there/checks.md"},
        });
        client.call("initialize", params).unwrap();
        client.notify("initialized", json!({}));
        client.open(uri, PLAN);
        let found = client.findings_become(uri, &[SMALL]);
        client.finish();
        found[0]["codeDescription"]["href"].clone()
    };
    assert_eq!(href(true), format!("file:///there/checks.md#{SMALL}"));
    assert_eq!(href(false), Value::Null);
}
