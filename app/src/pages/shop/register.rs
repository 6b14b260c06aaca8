//! What every register of the shop page has: columns, rows, fields, and how a draft becomes a change.

use crate::forms::draft::{Draft, FieldErrors, Key, Reader, plain_number};
use crate::widgets::choice::Offer;
use almanac_core::actions::Action;
use almanac_core::moment::DayRange;
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;
use almanac_core::units::{Kilonewtons, Millimetres, Money, Quantity, Unit};
use chrono::NaiveDate;

/// A column of the table.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its head.
    pub head: &'static str,
    /// Share of the width.
    pub share: f32,
    /// Figures stand to the right.
    pub is_figure: bool,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub const fn words(head: &'static str, share: f32) -> Self {
        Self { head, share, is_figure: false }
    }

    /// A column of figures.
    #[must_use]
    pub const fn figures(head: &'static str, share: f32) -> Self {
        Self { head, share, is_figure: true }
    }
}

/// A row of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RegisterRow {
    /// Its row number in the shop file.
    pub id: i64,
    /// One text for each column.
    pub cells: Vec<String>,
    /// Whether it needs a person, such as a gauge out of calibration.
    pub needs_action: bool,
}

impl RegisterRow {
    /// A row that needs nobody.
    #[must_use]
    pub const fn new(id: i64, cells: Vec<String>) -> Self {
        Self { id, cells, needs_action: false }
    }
}

/// How a field is filled.
#[derive(Debug, Clone)]
pub enum FieldKind {
    /// Words.
    Text,
    /// A day; which way a day without a year is meant.
    Day(Lean),
    /// A figure, with its unit after it.
    Figure(String),
    /// One of a few words.
    Words(&'static [&'static str]),
    /// A name with offers.
    Offers(Vec<Offer>),
    /// Yes or not, with these words.
    Tick(&'static str),
    /// Only a head between fields.
    Section,
}

/// A field of the form.
#[derive(Debug, Clone)]
pub struct Field {
    /// Its label, and the key of its text.
    pub key: Key,
    /// How it is filled.
    pub kind: FieldKind,
    /// Stands in the empty field.
    pub hint: String,
}

impl Field {
    /// A field for words.
    #[must_use]
    pub fn text(key: Key, hint: &str) -> Self {
        Self { key, kind: FieldKind::Text, hint: hint.to_owned() }
    }

    /// A field for a day that lies behind (a record).
    #[must_use]
    pub fn day(key: Key, hint: &str) -> Self {
        Self { key, kind: FieldKind::Day(Lean::Back), hint: hint.to_owned() }
    }

    /// A field for a day that lies ahead (a plan).
    #[must_use]
    pub fn day_ahead(key: Key, hint: &str) -> Self {
        Self { key, kind: FieldKind::Day(Lean::Ahead), hint: hint.to_owned() }
    }

    /// A field for a figure.
    #[must_use]
    pub fn figure(key: Key, hint: &str, unit: &str) -> Self {
        Self { key, kind: FieldKind::Figure(unit.to_owned()), hint: hint.to_owned() }
    }

    /// A few words to choose from.
    #[must_use]
    pub const fn words(key: Key, options: &'static [&'static str]) -> Self {
        Self { key, kind: FieldKind::Words(options), hint: String::new() }
    }

    /// A name with offers.
    #[must_use]
    pub fn offers(key: Key, hint: &str, offers: Vec<Offer>) -> Self {
        Self { key, kind: FieldKind::Offers(offers), hint: hint.to_owned() }
    }

    /// A tick.
    #[must_use]
    pub const fn tick(key: Key, words: &'static str) -> Self {
        Self { key, kind: FieldKind::Tick(words), hint: String::new() }
    }

    /// A head between fields.
    #[must_use]
    pub const fn section(key: Key) -> Self {
        Self { key, kind: FieldKind::Section, hint: String::new() }
    }
}

/// What a register can see.
#[derive(Debug, Clone, Copy)]
pub struct RegisterContext<'a> {
    /// The shop as it stands.
    pub shop: &'a Shop,
    /// The day that stands for now.
    pub today: NaiveDate,
}

/// One register.
pub trait Register: Sync {
    /// Its word in the list at the left.
    fn word(&self) -> &'static str;
    /// One row of it, such as `machine`.
    fn one(&self) -> &'static str;
    /// Columns of the table.
    fn columns(&self) -> Vec<Column>;
    /// Rows of the table in their order.
    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow>;
    /// Fields of the form.
    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field>;
    /// The draft of a row, or of a new one; `None` where the row is gone.
    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft>;
    /// The change that a draft makes.
    ///
    /// # Errors
    /// What is missing or wrong, field by field.
    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors>;
    /// What is asked about a field, and of which one; it keeps nothing from being saved.
    fn remark(&self, _context: &RegisterContext<'_>, _draft: &Draft) -> Option<(Key, String)> {
        None
    }
    /// The change that removes a row; `None` where rows stay.
    fn remove(&self, id: i64) -> Option<Action>;
    /// Whether rows can be added.
    fn can_add(&self) -> bool {
        true
    }
    /// The field whose text names a row.
    fn name_key(&self) -> Key {
        self.one()
    }
}

/// A figure of 0 or more.
pub fn amount(reader: &mut Reader<'_>, key: Key) -> Option<f64> {
    reader.optional(key, "a figure of 0 or more", |text| plain_number(text).filter(|figure| *figure >= 0.0))
}

/// An amount of money of 0 or more.
pub fn money(reader: &mut Reader<'_>, key: Key) -> Option<Money> {
    amount(reader, key).and_then(Money::new)
}

/// A whole number of at least that much.
pub fn whole(reader: &mut Reader<'_>, key: Key, least: u32) -> Option<u32> {
    let expected = format!("a whole number of at least {least}");
    reader.optional(key, &expected, |text| text.parse::<u32>().ok().filter(|number| *number >= least))
}

/// A force typed with or without its unit; without it counts the shop's.
#[must_use]
pub fn force(text: &str, shop: &Shop) -> Option<Kilonewtons> {
    let (value, unit) = with_unit(text, shop.settings.force_unit)?;
    (unit.quantity() == Quantity::ClampForce).then(|| Kilonewtons::new(unit.to_base(value))).flatten()
}

/// A length typed with or without its unit; without it counts the shop's.
#[must_use]
pub fn length(text: &str, shop: &Shop) -> Option<Millimetres> {
    let (value, unit) = with_unit(text, shop.settings.length_unit)?;
    (unit.quantity() == Quantity::SettingDimension).then(|| Millimetres::new(unit.to_base(value))).flatten()
}

fn with_unit(text: &str, otherwise: Unit) -> Option<(f64, Unit)> {
    let text = text.trim();
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let unit = text.get(digits.len()..).unwrap_or_default();
    let unit = if unit.is_empty() { otherwise } else { Unit::from_symbol(unit)? };
    Some((plain_number(digits)?, unit))
}

/// A figure of the stored unit as one types it in the shop's unit, without needless digits.
#[must_use]
pub fn typed(base: f64, unit: Unit) -> String {
    let value = unit.from_base(base);
    let short = format!("{value:.6}");
    short.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Intervals of days, separated by `;`.
#[must_use]
pub fn parse_ranges(text: &str) -> Option<Vec<DayRange>> {
    text.split(';').map(str::trim).filter(|item| !item.is_empty()).map(DayRange::parse).collect()
}

/// The inverse of [`parse_ranges`].
#[must_use]
pub fn ranges_text(ranges: &[DayRange]) -> String {
    ranges.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// Says that a name is taken by another row.
pub fn check_unique<'n>(
    reader: &mut Reader<'_>,
    key: Key,
    name: &str,
    mine: Option<i64>,
    mut taken: impl Iterator<Item = (i64, &'n str)>,
) {
    if taken.any(|(id, other)| Some(id) != mine && other == name) {
        reader.wrong(key, format!("there is already one named '{name}'"));
    }
}

/// The text of a day, empty where there is none.
#[must_use]
pub fn day_text(day: Option<NaiveDate>) -> String {
    day.map(|day| day.to_string()).unwrap_or_default()
}

/// The text of a figure, empty where there is none.
#[must_use]
pub fn figure_text(figure: Option<f64>) -> String {
    figure.map(|figure| figure.to_string()).unwrap_or_default()
}

/// Names of the tool interfaces that the shop has, for offers.
#[must_use]
pub fn interface_offers(shop: &Shop) -> Vec<Offer> {
    let mut all: Vec<_> = shop.spindles.values().map(|spindle| spindle.interface.clone()).collect();
    all.sort();
    all.dedup();
    let known = ["HSK-A63", "HSK-F63", "HSK-A100", "HSK-E50", "7/24 40", "7/24 50", "PSC 63"];
    let mut offers: Vec<Offer> =
        all.iter().map(|interface| Offer::new(interface.to_string(), "in this shop")).collect();
    offers.extend(
        known
            .into_iter()
            .filter(|name| !all.iter().any(|interface| interface.as_str() == *name))
            .map(|name| Offer::new(name, "")),
    );
    offers
}

/// The shop's spindles, with where each sits.
#[must_use]
pub fn spindle_offers(context: &RegisterContext<'_>) -> Vec<Offer> {
    let place = |id| context.shop.position_on(id, context.today).map(|at| context.shop.position_label(at));
    context
        .shop
        .spindles
        .iter()
        .map(|(id, spindle)| {
            let place = place(*id).unwrap_or_else(|| "not mounted".to_owned());
            Offer::new(spindle.name.clone(), format!("{place}, {}", spindle.interface))
        })
        .collect()
}

/// The shop's parts, with what is on hand.
#[must_use]
pub fn part_offers(shop: &Shop) -> Vec<Offer> {
    shop.parts
        .iter()
        .map(|part| Offer::new(part.name.clone(), format!("{} {} here", part.on_hand, part.unit)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forces_and_lengths_take_a_unit_of_their_own() {
        let shop = Shop::default();
        assert_eq!(force("18", &shop), Kilonewtons::new(18.0));
        // 4,046.56 lbf = 18 kN within a newton (NIST SP 811: 4.4482216152605 N)
        let pounds = force("4046.56 lbf", &shop).unwrap();
        assert!((pounds.get() - 18.0).abs() < 0.001);
        assert_eq!(force("10.5 mm", &shop), None);
        assert_eq!(length("0.413 in", &shop).map(|mm| typed(mm.get(), Unit::Inch)), Some("0.413".to_owned()));
        assert_eq!(length("10,5", &shop), Millimetres::new(10.5));
        assert_eq!(force("much", &shop), None);
    }
}
