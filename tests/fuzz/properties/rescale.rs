//! Every question about a plan has an answer in places that the text has; a plan that is rescaled is a plan still.

use ide::{Document, TargetKind, TargetText, TextEdit};

pub fn holds(bytes: &[u8]) {
    // The first byte says which goal.
    let Some((&goal, bytes)) = bytes.split_first() else {
        return;
    };
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if text.len() > 1500 {
        return;
    }
    let document = Document::new(text);
    let has = |range: &std::ops::Range<usize>| text.get(range.clone()).is_some();
    let fit = |edits: &[TextEdit]| {
        edits
            .windows(2)
            .all(|pair| pair[0].range.end <= pair[1].range.start)
            && edits.iter().all(|edit| has(&edit.range))
    };
    for finding in document.findings() {
        assert!(has(&finding.range));
        assert!(
            finding
                .fixes
                .iter()
                .all(|fix| fix.edits.iter().all(|edit| has(&edit.range)))
        );
    }
    assert!(fit(&document.formatting()));
    let _ = (
        document.inlay_hints(0..text.len()),
        document.lenses(true),
        document.symbols(),
        document.folds(),
    );
    for unit in document.plans() {
        let series = unit.plan.series();
        for (run, own) in series.plans() {
            assert!(!own.has_runs(), "{}", run.label.text);
        }
        let _ = (series.totals(), series.stocks());
    }
    let at = text.len() * usize::from(goal) / 256;
    let _ = (
        document.hover(at),
        document.actions(at..at),
        document.completions(at),
        document.signature(at),
    );

    let target = match goal % 8 {
        0 => (TargetKind::By, Some("0.5")),
        1 => (TargetKind::By, Some("1000000")),
        2 => (TargetKind::To, Some("10 mmol")),
        3 => (TargetKind::To, Some("2.50 g")),
        4 => (TargetKind::Product, Some("5.0 g")),
        5 => (TargetKind::Flask, None),
        6 => (TargetKind::Flask, Some("250 mL")),
        _ => (TargetKind::Smallest, None),
    };
    let target = TargetText {
        kind: target.0,
        quantity: target.1.map(str::to_owned),
        key: None,
    };
    let rescaled = match goal / 8 % 2 {
        0 => document.rescale_target(at.min(text.len()), &target),
        _ => document.rescale_target_to_tools(at.min(text.len()), &target),
    };
    match rescaled {
        Ok(rescaled) => {
            let edits = rescaled.edits_with(|_| goal / 16 % 2 == 0);
            assert!(fit(&edits), "{edits:?}");
            let mut new = text.to_owned();
            for edit in edits.iter().rev() {
                new.replace_range(edit.range.clone(), &edit.new_text);
            }
            let after = Document::new(&new);
            assert_eq!(document.plans().count(), after.plans().count(), "{new:?}");
            let read = |document: &Document| {
                let lines = document.plans().map(|unit| unit.plan.text.lines.len());
                lines.collect::<Vec<_>>()
            };
            assert_eq!(read(&document), read(&after), "{new:?}");
            let _ = after.findings();
        }
        Err(why) => assert!(!why.is_empty()),
    }
}
