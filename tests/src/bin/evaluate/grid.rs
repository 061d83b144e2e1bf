//! Tables in Markdown, with their columns under one another.

/// On which side the cells of all columns but the first, which are words, are flush.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Flush {
    Left,
    Right,
}

/// A table; the first line is its heading. Lines may have fewer cells than it.
pub(crate) fn grid(lines: &[Vec<String>], flush: Flush) -> String {
    let columns = lines.iter().map(Vec::len).max().unwrap_or(0);
    let width =
        |n: usize| lines.iter().filter_map(|line| line.get(n)).map(|c| c.chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for (n, line) in lines.iter().enumerate() {
        let cells = line.iter().zip(&widths).enumerate().map(|(n, (cell, w))| match flush {
            Flush::Right if n > 0 => format!("{cell:>w$}"),
            _ => format!("{cell:<w$}"),
        });
        text += &format!("| {} |\n", cells.collect::<Vec<_>>().join(" | "));
        if n == 0 {
            let rules: Vec<String> = widths.iter().map(|w| "-".repeat(*w)).collect();
            text += &format!("|-{}-|\n", rules.join("-|-"));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_stand_under_one_another() {
        let lines =
            [vec!["", "bars"], vec!["fünf", "5"]].map(|line| line.into_iter().map(str::to_owned).collect());
        assert_eq!(grid(&lines, Flush::Right), "|      | bars |\n|------|------|\n| fünf |    5 |\n");
        assert_eq!(grid(&lines, Flush::Left), "|      | bars |\n|------|------|\n| fünf | 5    |\n");
    }
}
