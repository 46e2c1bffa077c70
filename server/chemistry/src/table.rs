//! Search in sorted text whose lines begin with a key and a tab, where it lies: nothing is read
//! before it is asked for.

/// Where the first line begins whose key is not less than `key`.
fn lower_bound(table: &str, key: &str) -> usize {
    let (mut low, mut high) = (0, table.len());
    while low < high {
        let middle = low + (high - low) / 2;
        let start = line_start(table, middle);
        let line = line_at(table, start);
        if key_of(line).as_bytes() < key.as_bytes() {
            low = start + line.len() + 1;
        } else {
            high = start;
        }
    }
    low
}

fn line_start(table: &str, at: usize) -> usize {
    let before = table.as_bytes().get(..at).unwrap_or_default();
    before
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |end| end + 1)
}

/// The line that begins at a byte, without its end; empty beyond the table.
fn line_at(table: &str, start: usize) -> &str {
    let rest = table.get(start..).unwrap_or_default();
    rest.split_once('\n').map_or(rest, |(line, _)| line)
}

fn key_of(line: &str) -> &str {
    line.split_once('\t').map_or(line, |(key, _)| key)
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
