//! What the client's own settings say, under `meniscus`. A `meniscus.toml` rules over them: it is kept with the plans.

use super::SOURCE;
use plan::settings::Settings;
use serde_json::Value;
use tower_lsp::lsp_types::{ConfigurationItem, Registration};

/// What can be set.
#[derive(Debug, PartialEq)]
pub(super) struct Configuration {
    /// `profile` and `checks`, as `[checks]` of `meniscus.toml` says them.
    pub(super) checks: Vec<(String, String)>,
    /// Whether hints are shown.
    pub(super) hints: bool,
}

impl Configuration {
    /// Reads it, with what is wrong: a mistake costs the value with the mistake. Other keys are the client's own.
    pub(super) fn read(value: &Value) -> (Configuration, Vec<String>) {
        let mut problems = Vec::new();
        let mut checks = Vec::new();
        let said = value.get("checks").and_then(Value::as_object);
        let said = said.into_iter().flatten();
        let profile = value.get(checks::PROFILE).filter(|value| !value.is_null());
        let profile = profile.map(|value| (checks::PROFILE, value));
        for (key, value) in said.map(|(key, value)| (&**key, value)).chain(profile) {
            let place = match key {
                checks::PROFILE => format!("{SOURCE}.{key}"),
                _ => format!("{SOURCE}.checks.{key}"),
            };
            let Some(value) = value.as_str() else {
                problems.push(format!("{place}: write a text, in quotes."));
                continue;
            };
            let alone = Settings::default().with_check(key, value);
            match checks::problems(&alone).into_iter().next() {
                Some(problem) => problems.push(format!("{place}: {}", problem.message)),
                None => checks.push((key.to_owned(), value.to_owned())),
            }
        }
        if value
            .get("checks")
            .is_some_and(|value| !value.is_object() && !value.is_null())
        {
            problems.push(format!(
                "{SOURCE}.checks: write an object of checks and severities."
            ));
        }
        let hints = match value.get("hints") {
            None | Some(Value::Null) => true,
            Some(Value::Bool(hints)) => *hints,
            Some(_) => {
                problems.push(format!("{SOURCE}.hints: write true or false."));
                true
            }
        };
        (Configuration { checks, hints }, problems)
    }
}

/// What is asked of the client.
pub(super) fn item() -> ConfigurationItem {
    ConfigurationItem {
        scope_uri: None,
        section: Some(SOURCE.to_owned()),
    }
}

/// Has the client tell when it changes.
pub(super) fn registration() -> Registration {
    Registration {
        id: "configuration".to_owned(),
        method: "workspace/didChangeConfiguration".to_owned(),
        register_options: Some(serde_json::json!({"section": SOURCE})),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_mistake_costs_the_value_with_the_mistake() {
        let pair = |key: &str, value: &str| (key.to_owned(), value.to_owned());
        for (value, checks, hints, wrong) in [
            (json!(null), vec![], true, 0),
            (json!({"server": {"path": 5}}), vec![], true, 0),
            (
                json!({"profile": "quiet", "hints": false, "checks": {"titre-old": "off"}}),
                vec![pair("titre-old", "off"), pair("profile", "quiet")],
                false,
                0,
            ),
            (
                json!({"profile": "loud", "hints": 1, "checks": {"titre-old": "off", "none": "off", "too-small-to-measure": []}}),
                vec![pair("titre-old", "off")],
                true,
                4,
            ),
            (json!({"checks": [], "profile": null}), vec![], true, 1),
            (json!([1]), vec![], true, 0),
        ] {
            let (found, problems) = Configuration::read(&value);
            assert_eq!(found, Configuration { checks, hints }, "{value}");
            assert_eq!(problems.len(), wrong, "{problems:?}");
        }
    }
}
