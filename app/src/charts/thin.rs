//! Thinning to pixels: thousands of points look the same when each pixel column keeps its extremes.

/// The points of a span that are worth drawing, in their order: per pixel column the lowest and the
/// highest, and one point on each side of the span so that a line runs out of the chart.
///
/// `points` are sorted by x; gives their indices.
#[must_use]
pub fn thin(points: &[(f64, f64)], from: f64, to: f64, columns: usize) -> Vec<usize> {
    let first = points.partition_point(|point| point.0 < from).saturating_sub(1);
    let last = (points.partition_point(|point| point.0 <= to) + 1).min(points.len());
    let visible = points.get(first..last).unwrap_or_default();
    if visible.len() <= columns.saturating_mul(2) {
        return (first..last).collect();
    }
    let column_of = |x: f64| ((x - from) / (to - from).max(1e-12) * columns as f64).floor() as i64;
    let mut kept = Vec::with_capacity(columns * 2 + 4);
    let mut start = 0;
    while let Some(head) = visible.get(start) {
        let column = column_of(head.0);
        let length = visible.iter().skip(start).take_while(|point| column_of(point.0) == column).count().max(1);
        let group = visible.get(start..start + length).unwrap_or_default();
        let index_by = |pick: fn(std::cmp::Ordering) -> bool| {
            group.iter().enumerate().fold(0, |best, (index, point)| {
                let champion = group.get(best).map_or(point.1, |p| p.1);
                if pick(point.1.total_cmp(&champion)) { index } else { best }
            })
        };
        let (low, high) = (index_by(std::cmp::Ordering::is_lt), index_by(std::cmp::Ordering::is_gt));
        kept.push(first + start + low.min(high));
        if low != high {
            kept.push(first + start + low.max(high));
        }
        start += length;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_points_stay_as_they_are() {
        let points = [(0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (9.0, 4.0)];
        assert_eq!(thin(&points, 0.5, 2.5, 100), vec![0, 1, 2, 3]);
    }

    #[test]
    fn many_points_keep_their_extremes_and_order() {
        let points: Vec<(f64, f64)> = (0..10_000).map(|i| (f64::from(i), f64::from((i * 7919) % 1000))).collect();
        let kept = thin(&points, 0.0, 9_999.0, 100);
        assert!(kept.len() <= 204, "{} kept", kept.len());
        assert!(kept.is_sorted());
        let highest = |indices: &mut dyn Iterator<Item = usize>| indices.map(|i| points[i].1).fold(0.0, f64::max);
        assert!((highest(&mut kept.iter().copied()) - highest(&mut (0..10_000))).abs() < 1e-9);
    }

    #[test]
    fn nothing_gives_nothing() {
        assert!(thin(&[], 0.0, 1.0, 10).is_empty());
    }
}
