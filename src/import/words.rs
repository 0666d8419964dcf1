//! Texts made alike: lower case, no accents, no marks.

/// Lower case without accents; one letter stays one, so that positions hold.
#[must_use]
pub(super) fn fold(text: &str) -> String {
    // An accent may stand behind its letter as a sign of its own.
    text.trim().chars().filter(|c| !('\u{300}'..='\u{36f}').contains(c)).map(fold_char).collect()
}

fn fold_char(c: char) -> char {
    match c {
        'Ä' | 'ä' | 'á' | 'à' | 'â' | 'ã' | 'å' | 'Á' | 'À' | 'Â' | 'Å' => 'a',
        'Ö' | 'ö' | 'ó' | 'ò' | 'ô' | 'õ' | 'ø' | 'Ó' | 'Ø' => 'o',
        'Ü' | 'ü' | 'ú' | 'ù' | 'û' | 'Ú' | 'µ' | 'μ' => 'u',
        'é' | 'è' | 'ê' | 'ë' | 'É' | 'È' | 'Ê' => 'e',
        'í' | 'ì' | 'î' | 'ï' | 'Í' => 'i',
        'ç' | 'Ç' => 'c',
        'ñ' | 'Ñ' => 'n',
        'ß' => 's',
        other => other.to_lowercase().next().unwrap_or(other),
    }
}

/// The words of a text, folded, without signs; figures stay words.
#[must_use]
pub(super) fn tokens(text: &str) -> Vec<String> {
    // `ß` is one character in a position, and two letters in a word.
    let text = text.replace('ß', "ss");
    fold(&text).split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_owned).collect()
}
