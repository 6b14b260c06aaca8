//! Which state word a spindle has.

use super::{Booking, Mark};
use crate::forecast::{SpindleForecast, SpindleState};
use chrono::{Days, NaiveDate};

/// What a mark depends on.
#[derive(Debug, Clone, Copy)]
pub struct MarkInput<'a> {
    /// The projection.
    pub forecast: &'a SpindleForecast,
    /// Its open order.
    pub booking: Option<&'a Booking>,
    /// Taken out of service for good by the as-of day.
    pub is_taken_out: bool,
    /// The day from which it looks.
    pub as_of: NaiveDate,
    /// How far ahead a service must be placed.
    pub booking_horizon_days: u32,
}

impl Mark {
    /// The first state word that fits, in their order.
    #[must_use]
    pub fn of(input: MarkInput<'_>) -> Self {
        let MarkInput { forecast, booking, is_taken_out, as_of, booking_horizon_days } = input;
        if is_taken_out || forecast.state == SpindleState::NotMounted {
            return Self::OutOfService;
        }
        if must_not_run(forecast) {
            return Self::DoNotRun;
        }
        if forecast.is_passed {
            return Self::PastLimit;
        }
        let placed_on = booking.and_then(|booking| booking.day);
        let horizon = as_of.checked_add_days(Days::new(u64::from(booking_horizon_days))).unwrap_or(NaiveDate::MAX);
        let is_soon = forecast.service_by.is_some_and(|day| day <= horizon);
        // an order without a place keeps nothing from running out
        if is_soon && placed_on.is_none() {
            return Self::ToBook;
        }
        if let (Some(placed_on), Some(service_by)) = (placed_on, forecast.service_by)
            && service_by < placed_on
        {
            return Self::BookedLate;
        }
        if booking.is_some() {
            return Self::Booked;
        }
        if !forecast.force_measured { Self::NoReading } else { Self::Clear }
    }
}

/// Under the stop limit by its last readings, or by the estimate that rests on its readings.
#[must_use]
pub const fn must_not_run(forecast: &SpindleForecast) -> bool {
    forecast.under_stop_limit.is_some()
}
