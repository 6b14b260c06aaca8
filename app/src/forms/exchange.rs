//! The form of an exchange: another spindle comes into a position.

use super::draft::{Draft, FieldErrors, Reader};
use super::layout::{Fields, quiet};
use super::{FormBody, Heading, Remembered, facts};
use crate::pages::{PageContext, Requests};
use crate::theme::{palette, serif, size};
use crate::widgets::choice::Offer;
use almanac_core::actions::Action;
use almanac_core::ids::SpindleId;
use almanac_core::machine::Position;
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, RichText};

/// What stands in the field of the incoming spindle when the position stays empty.
const NONE: &str = "nothing";

/// An exchange being entered.
#[derive(Debug)]
pub struct ExchangeForm {
    outgoing: SpindleId,
    draft: Draft,
    focus_first: bool,
}

/// Where the outgoing spindle sits, and what comes in, on which day.
#[derive(Debug, Clone, Copy)]
struct Exchange {
    position: Position,
    incoming: Option<SpindleId>,
    on: NaiveDate,
}

impl ExchangeForm {
    /// An empty form for the position of a spindle.
    #[must_use]
    pub fn new(outgoing: SpindleId, context: &PageContext<'_>) -> Self {
        Self { outgoing, draft: Draft::default().with("date", context.present.to_string()), focus_first: true }
    }

    fn read(&self, shop: &Shop, today: NaiveDate) -> Result<Exchange, FieldErrors> {
        let mut reader = Reader::new(&self.draft, today);
        let name = reader.optional_text("comes in");
        if name.is_none() {
            reader.missing("the spindle that comes in, or nothing");
        }
        let on = reader.required_day("date", Lean::Back);
        if let Some(on) = on.filter(|on| *on > today) {
            reader.wrong("date", format!("{on} lies after today, {today}"));
        }
        let position = on.and_then(|on| shop.position_on(self.outgoing, on));
        if let (Some(on), None) = (on, position) {
            reader.wrong("date", format!("this spindle sits in no machine on {on}"));
        }
        let incoming = match name.as_deref() {
            None | Some(NONE) => None,
            Some(name) => match shop.spindle_named(name) {
                Some(id) => {
                    check_incoming(&mut reader, shop, self.outgoing, id, on);
                    Some(id)
                }
                None => {
                    reader
                        .wrong("comes in", format!("'{name}' is no spindle of this shop; add it under Shop, spindles"));
                    None
                }
            },
        };
        reader.finish(position.zip(on).map(|(position, on)| Exchange { position, incoming, on }))
    }

    /// "S-0117 leaves R-04 with 15,012 h; S-0139 starts there."
    fn sentence(&self, exchange: &Exchange, context: &PageContext<'_>) -> String {
        let hours = facts::forecast_of(context, self.outgoing).and_then(|forecast| forecast.run_hours);
        let with = hours.map(|hours| format!(" with {} h", words::hours(hours))).unwrap_or_default();
        let leaves = facts::spindle_name(context.shop, self.outgoing);
        let place = context.shop.position_label(exchange.position);
        match exchange.incoming {
            Some(incoming) => {
                format!("{leaves} leaves {place}{with}; {} starts there.", facts::spindle_name(context.shop, incoming))
            }
            None => format!("{leaves} leaves {place}{with}; the position stays empty."),
        }
    }
}

fn check_incoming(reader: &mut Reader<'_>, shop: &Shop, outgoing: SpindleId, id: SpindleId, on: Option<NaiveDate>) {
    let Some(spindle) = shop.spindles.get(&id) else { return };
    let Some(on) = on else { return };
    if id == outgoing {
        reader.wrong("comes in", format!("{} is the one that leaves", spindle.name));
    } else if let Some(position) = shop.position_on(id, on) {
        let place = shop.position_label(position);
        reader.wrong("comes in", format!("{} sits in {place} on that day; take it out there first", spindle.name));
    } else if spindle.is_out_on(on) {
        reader.wrong("comes in", format!("{} was taken out of service", spindle.name));
    }
}

/// Spindles that sit in no machine and may be mounted; those of the same interface first.
fn free_spindles(shop: &Shop, outgoing: SpindleId, day: NaiveDate) -> Vec<Offer> {
    let wanted = shop.spindles.get(&outgoing).map(|spindle| spindle.interface.clone());
    let mut free: Vec<_> = shop
        .spindles
        .iter()
        .filter(|(id, spindle)| shop.position_on(**id, day).is_none() && !spindle.is_out_on(day))
        .map(|(_, spindle)| spindle)
        .collect();
    free.sort_by_key(|spindle| (Some(&spindle.interface) != wanted.as_ref(), spindle.name.clone()));
    let mut offers: Vec<Offer> =
        free.iter().map(|spindle| Offer::new(spindle.name.clone(), spindle.interface.to_string())).collect();
    offers.push(Offer::new(NONE, "the position stays empty"));
    offers
}

impl FormBody for ExchangeForm {
    fn heading(&self, context: &PageContext<'_>) -> Heading {
        let name = facts::spindle_name(context.shop, self.outgoing);
        Heading {
            title: format!("Exchange {name}"),
            detail: facts::spindle_detail(context.shop, self.outgoing, context.present),
        }
    }

    fn body(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        _remembered: &Remembered,
        _requests: &mut Requests,
    ) {
        let offers = free_spindles(context.shop, self.outgoing, context.present);
        let mut fields = Fields { draft: &mut self.draft, errors };
        let incoming = fields.offers(ui, "comes in", "spindle, or nothing", &offers);
        if std::mem::take(&mut self.focus_first) {
            incoming.request_focus();
        }
        fields.day(ui, "date", "2026-03-17, 17.3., fri", context.present, Lean::Back);
        ui.add_space(8.0);
        if let Ok(exchange) = self.read(context.shop, context.present) {
            let ink = palette(ui).ink;
            let words = RichText::new(self.sentence(&exchange, context)).font(serif(size::REASON)).color(ink);
            ui.add(egui::Label::new(words).wrap());
            self.interface_warning(ui, &exchange, context);
            stop_limit_warning(ui, &exchange, context);
        }
        quiet(ui, "Hours and history stay with the spindle. Read both meters on that day.");
    }

    fn typed(&self) -> Draft {
        self.draft.clone()
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        let Exchange { position, incoming, on } = self.read(context.shop, context.present)?;
        Ok(Action::ExchangeSpindle { position, incoming, on })
    }

    fn save_words(&self, _context: &PageContext<'_>) -> String {
        "Save the exchange".to_owned()
    }
}

impl ExchangeForm {
    fn interface_warning(&self, ui: &mut egui::Ui, exchange: &Exchange, context: &PageContext<'_>) {
        let interface = |id: SpindleId| context.shop.spindles.get(&id).map(|spindle| spindle.interface.clone());
        let (out, into) = (interface(self.outgoing), exchange.incoming.and_then(interface));
        if let (Some(out), Some(into)) = (out, into)
            && out != into
        {
            super::layout::urgent(ui, &format!("{into} comes in where {out} was: check that its tools fit."));
        }
    }
}

/// A spare may have come out of its machine with too little force.
fn stop_limit_warning(ui: &mut egui::Ui, exchange: &Exchange, context: &PageContext<'_>) {
    let incoming = exchange.incoming.and_then(|id| context.forecast?.spindles.get(&id).map(|forecast| (id, forecast)));
    if let Some((id, _)) = incoming.filter(|(_, forecast)| forecast.is_read_under_stop_limit()) {
        let name = facts::spindle_name(context.shop, id);
        let words =
            format!("{name} was last read under its stop limit: do not run it until it is measured within limits.");
        super::layout::urgent(ui, &words);
    }
}
