//! Links out of a text.

use ide::Document;

fn links(text: &str) -> Vec<(String, String)> {
    let links = Document::new(text).links().into_iter();
    links
        .map(|link| (text[link.range].to_owned(), link.target))
        .collect()
}

/// Identifiers with brackets and less usual signs are those that the DOI Handbook warns of (section 2.5.2, encoding).
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
