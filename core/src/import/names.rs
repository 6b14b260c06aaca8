//! The nearest known name to a misspelt one.

/// How many single changes turn one text into the other: letters put in, left out, exchanged, or
/// two neighbours swapped. Case counts half, so that `s-0117` is nearer to `S-0117` than `S-0118`.
fn distance(a: &str, b: &str) -> f64 {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut two_back: Vec<f64> = Vec::new();
    let mut before: Vec<f64> = (0..=b.len()).map(|j| j as f64).collect();
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i as f64 + 1.0];
        for (j, to) in b.iter().enumerate() {
            let at = |cells: &[f64], index: usize| cells.get(index).copied().unwrap_or(f64::INFINITY);
            let exchange = if from == to {
                0.0
            } else if from.to_lowercase().eq(to.to_lowercase()) {
                0.5
            } else {
                1.0
            };
            let mut least = (at(&before, j) + exchange).min(at(&before, j + 1) + 1.0).min(at(&row, j) + 1.0);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(to) && b.get(j - 1) == Some(from);
            if swapped {
                least = least.min(at(&two_back, j - 1) + 1.0);
            }
            row.push(least);
        }
        two_back = std::mem::replace(&mut before, row);
    }
    before.last().copied().unwrap_or(0.0)
}

/// The known name nearest to a text, where it is near enough to be meant: at most every third
/// letter differs.
pub(super) fn nearest<'a>(text: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    // a text of absurd length is no slip of the finger
    let length = text.chars().count();
    if length > 100 {
        return None;
    }
    let limit = (length as f64 / 3.0).clamp(1.0, 4.0);
    known
        .filter(|name| name.chars().count().abs_diff(length) as f64 <= limit)
        .map(|name| (distance(text, name), name))
        .filter(|(off, _)| *off <= limit)
        .min_by(|(off_a, a), (off_b, b)| off_a.total_cmp(off_b).then(a.cmp(b)))
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_finger() {
        let known = ["S-0117", "S-0118", "R-04"];
        assert_eq!(nearest("S-O117", known.into_iter()), Some("S-0117"));
        assert_eq!(nearest("s-0118", known.into_iter()), Some("S-0118"));
        assert_eq!(nearest("S0117", known.into_iter()), Some("S-0117"));
        assert_eq!(nearest("S-1017", known.into_iter()), Some("S-0117"));
        assert_eq!(nearest("X", known.into_iter()), None);
        assert_eq!(nearest("", [].into_iter()), None);
    }
}
