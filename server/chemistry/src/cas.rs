//! CAS registry numbers. The build script uses this file too.

/// Whether a text is a CAS registry number whose check digit is right.
pub fn cas_is_valid(text: &str) -> bool {
    let groups: Vec<&str> = text.split('-').collect();
    let [head, middle, check] = groups.as_slice() else {
        return false;
    };
    let digits = |group: &str| group.bytes().all(|byte| byte.is_ascii_digit());
    if !(2..=7).contains(&head.len()) || middle.len() != 2 || check.len() != 1 {
        return false;
    }
    if !(digits(head) && digits(middle) && digits(check)) || head.starts_with('0') {
        return false;
    }
    let sum: u32 = head
        .bytes()
        .chain(middle.bytes())
        .rev()
        .zip(1..)
        .map(|(byte, weight)| u32::from(byte - b'0') * weight)
        .sum();
    check.parse() == Ok(sum % 10)
}
