//! Finding the name that somebody meant.

/// The names closest to a misspelt one, best first; empty when none comes near. The beginning of a name's word will do
/// if it has three letters.
pub fn near<'a>(wanted: &str, names: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let wanted = wanted.to_lowercase();
    let mut found: Vec<(usize, &str)> = names
        .into_iter()
        .map(|name| {
            let lower = name.to_lowercase();
            let begun = lower.split_whitespace().any(|word| word.starts_with(&wanted));
            (
                if wanted.len() >= 3 && (begun || lower.starts_with(&wanted)) {
                    0
                } else {
                    edits(&wanted, &lower)
                },
                name,
            )
        })
        .filter(|(edits, name)| *edits <= (name.chars().count() / 3).max(1))
        .collect();
    found.sort_unstable();
    found.into_iter().map(|(_, name)| name).collect()
}

/// Names as a sentence has them: `"a"`, `"a" or "b"`, `"a", "b" or "c"`.
pub fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = names.into_iter().map(|name| format!("\"{name}\"")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
    }
}

/// Levenshtein's distance: letters to insert, delete or replace.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = i;
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances() {
        assert_eq!(edits("", "abc"), 3);
        assert_eq!(edits("rising", "rising"), 0);
        assert_eq!(edits("kitten", "sitting"), 3);
    }

    #[test]
    fn the_nearest_name_comes_first_and_strangers_stay_away() {
        let names = ["unhurried", "light-footed", "strolling bass"];
        assert_eq!(near("unhuried", names), ["unhurried"]);
        assert_eq!(near("stroll", names), ["strolling bass"]);
        assert_eq!(near("bass", names), ["strolling bass"]);
        assert_eq!(near("strolling b", names), ["strolling bass"]);
        // In the middle of a word it is chance.
        assert!(near("foo", names).is_empty());
        assert!(near("xyz", names).is_empty());
        assert_eq!(listed(names), r#""unhurried", "light-footed" or "strolling bass""#);
    }
}
