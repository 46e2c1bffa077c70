//! Links out of a text.

use ide::Document;

fn links(text: &str) -> Vec<(String, String)> {
    let links = Document::new(text).links().into_iter();
    links
        .map(|link| (text[link.range].to_owned(), link.target))
        .collect()
}

/// Signs that an address may not hold are written as RFC 3986, section 2.1, has it: `%` and two digits for each byte.
#[test]
fn articles_are_found_by_their_identifier() {
    for (line, shown, target) in [
        (
            "source doi:10.15227/orgsyn.077.0001.",
            "10.15227/orgsyn.077.0001",
            "10.15227/orgsyn.077.0001",
        ),
        (
            "steps\n  stir # (see 10.1021/ja00000a001)",
            "10.1021/ja00000a001",
            "10.1021/ja00000a001",
        ),
        (
            "note 10.1016/S0040-4039(00)12345-6, page 2",
            "10.1016/S0040-4039(00)12345-6",
            "10.1016/S0040-4039(00)12345-6",
        ),
        (
            "# 10.1002/a<1::b>2#c",
            "10.1002/a<1::b>2#c",
            "10.1002/a%3C1::b%3E2%23c",
        ),
    ] {
        let expected = (shown.to_owned(), format!("https://doi.org/{target}"));
        assert_eq!(links(line), [expected], "{line}");
    }
}

#[test]
fn amounts_and_addresses_are_no_identifiers() {
    for line in [
        "materials\n  a: 10.1021/x, 10.5 g/L",
        "note 10.5/2 and 110.1021/x and 10.1021/ and 10.12345678901/x",
        "# https://doi.org/10.1021/ja00000a001",
        "",
    ] {
        assert_eq!(links(line), [], "{line}");
    }
}

#[test]
fn of_identifiers_that_run_into_one_another_the_first_counts() {
    assert_eq!(links("# 10.1021/a:10.1021/b 10.1021/c").len(), 2);
    for piece in ["10.1021/:", "10.", "10.1021/)", "10.1021/) "] {
        let text = format!("# {}", piece.repeat(100_000 / piece.len()));
        let begun = std::time::Instant::now();
        let _ = links(&text);
        // Generous, for a machine that does other work.
        assert!(
            begun.elapsed().as_secs() < 10,
            "{piece}: {:?}",
            begun.elapsed()
        );
    }
}
