//! What is computed for drawing, kept until the shop, the projection or the axis changes.

use super::drift::line_words;
use super::record::{self, Record, RecordKey, What};
use super::view::View;
use crate::charts::clock::{Axis, Clock};
use crate::charts::dates::moment_number;
use crate::charts::drift::{self, Drift, ReadingPoint};
use crate::charts::drift_labels::LineWords;
use crate::charts::thin::thin;
use almanac_core::exposure::ExposureBook;
use almanac_core::forecast::HORIZON_DAYS;
use almanac_core::ids::SpindleId;
use almanac_core::reading::Phase;
use chrono::NaiveDate;
use std::sync::Arc;

/// Everything drawn that does not depend on what is in view.
#[derive(Debug)]
pub(super) struct Figures {
    pub(super) drift: Drift,
    pub(super) words: LineWords,
    pub(super) records: Vec<Record>,
    pub(super) clock: Clock,
}

impl Figures {
    pub(super) fn record(&self, key: RecordKey) -> Option<&Record> {
        self.records.iter().find(|record| record.key == key)
    }

    /// Where a record stands on the axis.
    pub(super) fn place_of(&self, key: RecordKey) -> Option<f64> {
        self.clock.at(self.drift.axis, moment_number(self.record(key)?.at))
    }

    /// The force reading of a record in the chart.
    pub(super) fn point_of(&self, key: RecordKey) -> Option<&ReadingPoint> {
        let record = self.record(key)?;
        match record.what {
            What::Reading { .. } => {
                let id = record.force()?.id;
                self.drift.readings.iter().find(|point| point.id == id)
            }
            What::Service(_) => None,
        }
    }
}

/// What the drawn figures depend on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Key {
    spindle: SpindleId,
    revision: u64,
    figures_revision: u64,
    as_of: NaiveDate,
    axis: Axis,
}

/// What the thinned points depend on beyond that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct ThinKey {
    figures: Key,
    from: u64,
    to: u64,
    columns: usize,
}

/// Keeps the last of each.
#[derive(Debug, Default)]
pub(super) struct Cache {
    book: Option<((u64, NaiveDate), Arc<ExposureBook>)>,
    figures: Option<(Key, Arc<Figures>)>,
    thinned: Option<(ThinKey, Arc<Vec<usize>>)>,
}

impl Cache {
    /// The clock of the spindle.
    pub(super) fn clock(&mut self, view: &View<'_>) -> Clock {
        let key = (view.context.revision, view.as_of());
        let book = match &self.book {
            Some((known, book)) if *known == key => Arc::clone(book),
            _ => {
                let book = Arc::new(ExposureBook::of(view.context.shop, view.as_of(), HORIZON_DAYS));
                self.book = Some((key, Arc::clone(&book)));
                book
            }
        };
        Clock::new(book, view.id)
    }

    /// What is drawn of the spindle over an axis.
    pub(super) fn figures(&mut self, view: &View<'_>, axis: Axis) -> Arc<Figures> {
        let context = view.context;
        let key = Key {
            spindle: view.id,
            revision: context.revision,
            figures_revision: context.figures_revision,
            as_of: context.as_of,
            axis,
        };
        if let Some((known, figures)) = &self.figures
            && *known == key
        {
            return Arc::clone(figures);
        }
        let clock = self.clock(view);
        let booking = view.row.and_then(|row| row.booking.as_ref());
        let data = (context.shop, context.whole);
        let drift = match view.forecast {
            Some(forecast) => {
                let drift = drift::collect(data, view.id, forecast, booking, context.as_of, (axis, &clock));
                match view.before() {
                    Some(before) => drift.beside(before, forecast),
                    None => drift,
                }
            }
            None => Drift::empty(axis),
        };
        let words = view.forecast.map_or_else(LineWords::default, |forecast| line_words(view, forecast, &drift));
        let records = record::collect(context.whole, view.id, context.as_of);
        let figures = Arc::new(Figures { drift, words, records, clock });
        self.figures = Some((key, Arc::clone(&figures)));
        figures
    }

    /// The readings worth drawing in a span so many pixels wide.
    pub(super) fn thinned(&mut self, figures: &Figures, span: (f64, f64), width: f32) -> Arc<Vec<usize>> {
        let columns = width.max(1.0) as usize;
        let key = self.figures.as_ref().map(|(key, _)| ThinKey {
            figures: *key,
            from: span.0.to_bits(),
            to: span.1.to_bits(),
            columns,
        });
        if let (Some(key), Some((known, kept))) = (key, &self.thinned)
            && *known == key
        {
            return Arc::clone(kept);
        }
        let points: Vec<(f64, f64)> = figures.drift.readings.iter().map(|point| (point.x, point.force)).collect();
        let mut kept = thin(&points, span.0, span.1, columns);
        // what was read at a service or is doubted is never thinned out
        let special = |point: &ReadingPoint| point.phase != Phase::Routine || point.doubt.is_some();
        let indexed = figures.drift.readings.iter().enumerate();
        kept.extend(indexed.filter(|(_, point)| special(point)).map(|(index, _)| index));
        kept.sort_unstable();
        kept.dedup();
        let kept = Arc::new(kept);
        self.thinned = key.map(|key| (key, Arc::clone(&kept)));
        kept
    }
}
