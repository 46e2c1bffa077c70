//! Search in sorted text whose lines begin with a key and a tab, where it lies: nothing is read
//! before it is asked for.

/// Where the first line begins whose key is not less than `key`. Keys hold no character below a tab.
fn lower_bound(table: &str, key: &str) -> usize {
    let (table, key) = (table.as_bytes(), key.as_bytes());
    let (mut low, mut high) = (0, table.len());
    while low < high {
        let middle = low + (high - low) / 2;
        let (before, rest) = table.split_at(middle);
        let end_of_line = |byte: &u8| *byte == b'\n';
        let start = before
            .iter()
            .rposition(end_of_line)
            .map_or(0, |end| end + 1);
        // The tab after a shorter key, or the end of its line, is less than what the longer one goes on with.
        let from = table.get(start..).unwrap_or_default();
        if from.get(..key.len()).unwrap_or(from) < key {
            low = rest
                .iter()
                .position(end_of_line)
                .map_or(table.len(), |end| middle + end + 1);
        } else {
            high = start;
        }
    }
    low
}

/// The lines from the first whose key is not less than `key`.
pub(crate) fn from_key<'a>(table: &'a str, key: &str) -> impl Iterator<Item = &'a str> + use<'a> {
    let start = lower_bound(table, key);
    table.get(start..).unwrap_or_default().lines()
}

/// What follows the key on every line of that key.
pub(crate) fn lookup<'a, 'k>(
    table: &'a str,
    key: &'k str,
) -> impl Iterator<Item = &'a str> + use<'a, 'k> {
    from_key(table, key).map_while(move |line| match line.split_once('\t') {
        Some((found, rest)) if found == key => Some(rest),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_is_found_and_no_other() {
        let table = "a\t1\nab\t2\nab\t3\nb\t4\n";
        let found = |key| lookup(table, key).collect::<Vec<_>>();
        assert_eq!(found("a"), ["1"]);
        assert_eq!(found("ab"), ["2", "3"]);
        assert_eq!(found("b"), ["4"]);
        assert!(found("").is_empty() && found("aa").is_empty() && found("c").is_empty());
        assert!(lookup("", "a").next().is_none());
    }
}
