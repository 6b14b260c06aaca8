//! The strokes of one reading, held in place: nearly all readings have only a few.

use crate::reading::MAX_STROKES;
use std::fmt;
use std::ops::Deref;

/// The strokes of one reading; reads like a slice.
#[derive(Clone)]
pub struct Strokes(Held);

#[derive(Clone)]
enum Held {
    /// So many of these.
    Few([f64; MAX_STROKES], usize),
    /// More than a reading has by the rules.
    Many(Vec<f64>),
}

impl Deref for Strokes {
    type Target = [f64];
    fn deref(&self) -> &[f64] {
        match &self.0 {
            Held::Few(strokes, count) => strokes.get(..*count).unwrap_or_default(),
            Held::Many(strokes) => strokes,
        }
    }
}

impl FromIterator<f64> for Strokes {
    fn from_iter<I: IntoIterator<Item = f64>>(strokes: I) -> Self {
        let mut few = [0.0; MAX_STROKES];
        let mut count = 0;
        let mut strokes = strokes.into_iter();
        while let Some(stroke) = strokes.next() {
            let Some(place) = few.get_mut(count) else {
                return Self(Held::Many(few.into_iter().chain([stroke]).chain(strokes).collect()));
            };
            *place = stroke;
            count += 1;
        }
        Self(Held::Few(few, count))
    }
}

impl From<Vec<f64>> for Strokes {
    fn from(strokes: Vec<f64>) -> Self {
        strokes.into_iter().collect()
    }
}

impl PartialEq for Strokes {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl fmt::Debug for Strokes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_number_of_strokes_is_held() {
        for count in 0..12 {
            let strokes: Vec<f64> = (0..count).map(f64::from).collect();
            assert_eq!(*Strokes::from(strokes.clone()), *strokes);
        }
    }
}
