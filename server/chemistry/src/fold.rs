//! The key under which two spellings of a name are the same. The build script uses it too.

/// Folds a name: case, white space, hyphens and dashes, kinds of brackets and primes, Greek
/// letters, raised and lowered digits, `tert-` and `t-`, and the British and American spellings of
/// three elements make no difference.
pub(crate) fn fold(name: &str) -> String {
    let mut plain = String::with_capacity(name.len());
    for c in name.chars() {
        match c {
            '‐' | '‑' | '‒' | '–' | '—' | '−' | '﹣' | '\u{ff0d}' | '-' => {
                plain.push('-')
            }
            '’' | '‘' | '′' | 'ʹ' | '´' | '`' | '＇' => plain.push('\''),
            '″' | '”' | '"' => plain.push_str("''"),
            '‴' => plain.push_str("'''"),
            '[' | '{' => plain.push('('),
            ']' | '}' => plain.push(')'),
            '⋅' | '∙' | '•' | '・' | '*' | '×' => plain.push('·'),
            '₀'..='₉' => push_digit(&mut plain, c, '₀'),
            '⁰' | '⁴'..='⁹' => push_digit(&mut plain, c, '⁰'),
            '¹' => plain.push('1'),
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '⁺' => plain.push('+'),
            '®' | '™' | '\u{200b}' | '\u{2060}' | '\u{feff}' => {}
            'µ' | 'μ' => plain.push_str("mu"),
            _ => match greek(c) {
                Some(word) => plain.push_str(word),
                None => plain.extend(c.to_lowercase()),
            },
        }
    }
    for (spelling, same) in [
        ("tert.-", "t-"),
        ("tert-", "t-"),
        ("sec.-", "s-"),
        ("sec-", "s-"),
        ("sulph", "sulf"),
        ("aluminum", "aluminium"),
        ("cesium", "caesium"),
    ] {
        if plain.contains(spelling) {
            plain = plain.replace(spelling, same);
        }
    }
    plain.retain(|c| c != '-' && !c.is_whitespace());
    plain
}

fn push_digit(plain: &mut String, c: char, zero: char) {
    plain.extend(char::from_digit(u32::from(c) - u32::from(zero), 10));
}

fn greek(c: char) -> Option<&'static str> {
    Some(match c {
        'α' | 'Α' => "alpha",
        'β' | 'Β' | 'ß' => "beta",
        'γ' | 'Γ' => "gamma",
        'δ' | 'Δ' => "delta",
        'ε' | 'ϵ' | 'Ε' => "epsilon",
        'ζ' => "zeta",
        'η' => "eta",
        'θ' => "theta",
        'κ' => "kappa",
        'λ' | 'Λ' => "lambda",
        'π' => "pi",
        'σ' | 'Σ' => "sigma",
        'τ' => "tau",
        'φ' | 'ϕ' => "phi",
        'χ' => "chi",
        'ψ' => "psi",
        'ω' | 'Ω' => "omega",
        _ => return None,
    })
}
