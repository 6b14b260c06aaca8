//! Parts, what is on order, kits, and how long a service takes.

use crate::interface::Interface;
use crate::service::Kind;
use crate::units::{Minutes, Money, Quantity};
use chrono::NaiveDate;

/// A part on the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name, unique in the shop.
    pub name: String,
    /// What it is.
    pub description: String,
    /// How many are there, in `unit`.
    pub on_hand: f64,
    /// What it is counted in.
    pub unit: String,
    /// Days from order to arrival.
    pub lead_time_days: Option<u32>,
    /// Price of one unit.
    pub price: Option<Money>,
    /// Below this stock it is to be ordered.
    pub reorder_point: Option<f64>,
}

/// What is on order.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// The part's name.
    pub part: String,
    /// When it is expected.
    pub expected_on: NaiveDate,
    /// How many.
    pub quantity: f64,
    /// Free text.
    pub note: String,
}

/// One part of the kit that one service takes.
#[derive(Debug, Clone, PartialEq)]
pub struct KitLine {
    /// For which tool interface.
    pub interface: Interface,
    /// For which kind of service.
    pub kind: Kind,
    /// The part's name.
    pub part: String,
    /// How many.
    pub quantity: f64,
}

/// How long a service of one kind takes on one interface.
#[derive(Debug, Clone, PartialEq)]
pub struct ServiceKind {
    /// For which tool interface.
    pub interface: Interface,
    /// For which kind of service.
    pub kind: Kind,
    /// Working time without lockout.
    pub minutes: Minutes,
    /// One or two people.
    pub crew: u32,
    /// Which gauge it needs.
    pub gauge_quantity: Option<Quantity>,
}

impl ServiceKind {
    /// Minutes where the shop says nothing: minor 90, major 300 (common practice, no source).
    #[must_use]
    pub fn usual_minutes(kind: Kind) -> Minutes {
        Minutes::new(match kind {
            Kind::Minor => 90.0,
            Kind::Major => 300.0,
        })
        .unwrap_or_default()
    }
}
