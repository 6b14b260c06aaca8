//! Parts as rows that can be priced: up to a day, services take no more of a part than is there.

use crate::planning::problem::Problem;

/// One part up to one day.
#[derive(Debug, Clone)]
pub(super) struct PartRow {
    /// Last day that it counts.
    pub day: usize,
    /// How many are there for services that are not held.
    pub room: i64,
    /// Services that take some, and how many.
    pub takes: Vec<(usize, i64)>,
}

/// The rows that can bind, by day: one before each arrival and one at the end.
///
/// Where held services alone take more than is there, nothing is claimed of the others.
pub(super) fn part_rows(problem: &Problem) -> Vec<PartRow> {
    let mut rows = Vec::new();
    for (part, stock) in problem.parts.iter().enumerate() {
        let wanted = |service: usize| -> i64 {
            let parts = problem.services[service].parts.iter().filter(|(of, _)| *of == part);
            parts.map(|(_, quantity)| quantity).sum()
        };
        let is_free = |service: &usize| problem.services[*service].held.is_none();
        let takes: Vec<(usize, i64)> = (0..problem.services.len())
            .filter(is_free)
            .map(|service| (service, wanted(service)))
            .filter(|(_, quantity)| *quantity > 0)
            .collect();
        let all: i64 = takes.iter().map(|(_, quantity)| quantity).sum();
        let arrivals = stock.arrivals.iter().map(|(day, _)| *day).filter(|day| *day > 0 && *day < problem.days);
        let mut last_days: Vec<usize> = arrivals.map(|day| day - 1).chain([problem.days - 1]).collect();
        last_days.sort_unstable();
        last_days.dedup();
        for day in last_days {
            let came: i64 = stock.arrivals.iter().filter(|(on, _)| *on <= day).map(|(_, quantity)| quantity).sum();
            let held = (0..problem.services.len()).filter(|service| {
                let place = problem.services[*service].held.as_ref();
                place.and_then(|place| problem.windows.get(place.window)).is_some_and(|window| window.day <= day)
            });
            let room = stock.on_hand + came - held.map(wanted).sum::<i64>();
            if (0..all).contains(&room) {
                rows.push(PartRow { day, room, takes: takes.clone() });
            }
        }
    }
    rows.sort_by_key(|row| row.day);
    rows
}

/// What a service's price is worth on a day after its parts are paid for, day after day.
pub(super) struct NetPrices<'a> {
    rows: &'a [PartRow],
    part_prices: &'a [i64],
    next: usize,
    /// By service.
    pub net: Vec<i64>,
}

impl<'a> NetPrices<'a> {
    pub(super) fn new(service_prices: &[i64], rows: &'a [PartRow], part_prices: &'a [i64]) -> Self {
        let mut net = service_prices.to_vec();
        for (row, price) in rows.iter().zip(part_prices) {
            for (service, quantity) in &row.takes {
                net[*service] -= price * quantity;
            }
        }
        Self { rows, part_prices, next: 0, net }
    }

    /// Goes on to a day that is not before the last one.
    pub(super) fn go_to(&mut self, day: usize) {
        while let Some(row) = self.rows.get(self.next).filter(|row| row.day < day) {
            for (service, quantity) in &row.takes {
                self.net[*service] += self.part_prices[self.next] * quantity;
            }
            self.next += 1;
        }
    }
}
