//! Instance files: a planning problem as JSON, and a plan of it as JSON.
//!
//! Money in cents, time in minutes of the day, days counted from 0, curves in 1/10000 at days 0, 7,
//! 14, .. up to the horizon's end. Keys:
//!
//! * `days, lockout_min, visit_cost`, optionally `name`;
//!   `lines[line, hall, stop_cost_per_hour]`; `machines[machine, line]`
//! * `windows[window, hall or machine, day, from, to, stop_factor, premium_per_hour]`
//! * `technicians[technician, skills[], shifts[[day, from, to]]]`, optionally `minutes_per_day`;
//!   `parts[part, on_hand, arrivals[[day, quantity]]]`;
//!   `gauges[gauge, group, per_day, out[[first_day, last_day]]]`
//! * `services[service, machine, kind, minutes, crew, parts[[part, quantity]], gauge (a group),
//!   ready_day, crossed[], tail_days, day_below_cost, unused_day_value, leave_cost]`, optionally
//!   `booked` (a window) with `move_cost` and `held{window, start, technicians}`

use super::instance_field::Field;
pub use super::instance_field::InstanceError;
use super::names::{Names, name};
use super::problem::{
    Booked, CostParts, Curve, DayShift, Job, LeftReason, Line, Person, Place, Plan, PlanWindow, Problem, Scope, Span,
    Stock,
};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The kinds of service, by index of [`Person::skills`].
const KINDS: [&str; 2] = ["minor", "major"];
/// Longest horizon, in days: ten years.
const MOST_DAYS: i64 = 3660;
/// Largest amount of money: a hundred million, in cents.
const MOST_MONEY: i64 = 10_000_000_000;
/// Largest count of anything and longest time in minutes.
const MOST: i64 = 1_000_000;

/// The problem of an instance file; `file` is only named in errors.
///
/// # Errors
/// The file is no JSON, a key is missing, or a value cannot be: with field, value and what would mend it.
pub fn read(text: &str, file: &str) -> Result<(Problem, Names), InstanceError> {
    let value: Value = serde_json::from_str(text).map_err(|cause| InstanceError {
        file: file.to_owned(),
        field: "the whole file".to_owned(),
        value: cause.to_string(),
        mend: "write it as one JSON object".to_owned(),
    })?;
    Reader::default().problem(&Field::root(&value, file))
}

/// A plan of a problem as one JSON object: `plan`, `left`, `parts`, `cost`, `bound`.
///
/// `reasons` are by service; one that is missing for a service without a place is `dearer`.
/// `None` for the bound where nothing is claimed.
#[must_use]
pub fn plan_json(
    names: &Names,
    plan: &Plan,
    reasons: &[Option<LeftReason>],
    parts: &CostParts,
    bound: Option<i64>,
) -> Value {
    let (mut placed, mut left) = (Map::new(), Map::new());
    for (service, place) in plan.places.iter().enumerate() {
        let key = name(&names.services, service);
        if let Some(place) = place {
            let people: Vec<String> = place.technicians.iter().map(|who| name(&names.technicians, *who)).collect();
            let window = name(&names.windows, place.window);
            placed.insert(key, json!({"window": window, "start": place.start, "technicians": people}));
        } else {
            let reason = reasons.get(service).copied().flatten().unwrap_or(LeftReason::Dearer);
            left.insert(key, json!(reason.key()));
        }
    }
    let CostParts { stop, premium, risk, early, moved, lockout, visit, left: leaving } = *parts;
    let parts_json = json!({
        "stop": stop, "premium": premium, "risk": risk, "early": early, "move": moved,
        "lockout": lockout, "visit": visit, "left": leaving,
    });
    let mut object = json!({"plan": placed, "left": left, "parts": parts_json, "cost": parts.total()});
    if let (Some(bound), Some(map)) = (bound, object.as_object_mut()) {
        map.insert("bound".to_owned(), json!(bound));
    }
    object
}

/// Names met so far, by what they name.
#[derive(Default)]
struct Reader {
    names: Names,
    halls: BTreeMap<String, usize>,
    lines: BTreeMap<String, usize>,
    machines: BTreeMap<String, usize>,
    windows: BTreeMap<String, usize>,
    technicians: BTreeMap<String, usize>,
    parts: BTreeMap<String, usize>,
    gauges: BTreeMap<String, usize>,
}

type Read<T> = Result<T, InstanceError>;

impl Reader {
    fn problem(mut self, root: &Field<'_>) -> Read<(Problem, Names)> {
        if let Some(named) = root.optional("name")? {
            self.names.problem = named.text()?;
        }
        let days = root.get("days")?.whole(1, MOST_DAYS)? as usize;
        let lockout_min = root.get("lockout_min")?.whole(0, MOST)?;
        let visit_cost = root.get("visit_cost")?.whole(0, MOST_MONEY)?;
        let lines = root.get("lines")?.each(|field| self.line(field))?;
        let machines = root.get("machines")?.each(|field| self.machine(field))?;
        let windows = root.get("windows")?.each(|field| self.window(field, days))?;
        let technicians = root.get("technicians")?.each(|field| self.technician(field))?;
        let parts = root.get("parts")?.each(|field| self.stock(field))?;
        let mut gauges = self.gauge_groups(&root.get("gauges")?, days)?;
        root.get("services")?.each(|service| self.group_without_gauges(service, &mut gauges, days))?;
        let mut seen = BTreeMap::new();
        let services = root.get("services")?.each(|field| {
            add(&mut seen, &mut self.names.services, &field.get("service")?)?;
            self.service(field, days)
        })?;
        let halls = self.names.halls.len();
        let problem = Problem {
            days,
            lockout_min,
            visit_cost,
            halls,
            lines,
            machines,
            windows,
            technicians,
            parts,
            gauges,
            services,
        };
        Ok((problem, self.names))
    }

    fn line(&mut self, field: &Field<'_>) -> Read<Line> {
        add(&mut self.lines, &mut self.names.lines, &field.get("line")?)?;
        let hall = field.get("hall")?.text()?;
        let next = self.halls.len();
        let hall = *self.halls.entry(hall.clone()).or_insert_with(|| {
            self.names.halls.push(hall);
            next
        });
        Ok(Line { hall, stop_cost_per_hour: field.get("stop_cost_per_hour")?.whole(0, MOST_MONEY)? })
    }

    fn machine(&mut self, field: &Field<'_>) -> Read<usize> {
        add(&mut self.machines, &mut self.names.machines, &field.get("machine")?)?;
        field.get("line")?.one_of(&self.lines, "lines")
    }

    fn window(&mut self, field: &Field<'_>, days: usize) -> Read<PlanWindow> {
        add(&mut self.windows, &mut self.names.windows, &field.get("window")?)?;
        let scope = match (field.optional("hall")?, field.optional("machine")?) {
            (Some(hall), None) => Scope::Hall(hall.one_of(&self.halls, "halls of the lines")?),
            (None, Some(machine)) => Scope::Machine(machine.one_of(&self.machines, "machines")?),
            _ => return Err(field.fault("give it either a hall or a machine")),
        };
        Ok(PlanWindow {
            scope,
            day: field.get("day")?.whole(0, days as i64 - 1)? as usize,
            span: span(&field.get("from")?, &field.get("to")?)?,
            stop_factor: field.get("stop_factor")?.whole(0, MOST)?,
            premium_per_hour: field.get("premium_per_hour")?.whole(0, MOST_MONEY)?,
        })
    }

    fn technician(&mut self, field: &Field<'_>) -> Read<Person> {
        add(&mut self.technicians, &mut self.names.technicians, &field.get("technician")?)?;
        let skills: BTreeSet<usize> = field.get("skills")?.each(kind)?.into_iter().collect();
        let shifts = field.get("shifts")?.each(|shift| {
            let [day, from, to] = shift.exactly("a day, from and to")?;
            Ok(DayShift { day: day.whole(0, MOST_DAYS)? as usize, span: span(&from, &to)? })
        })?;
        let minutes_per_day = field.optional("minutes_per_day")?.map(|minutes| minutes.whole(0, MOST)).transpose()?;
        Ok(Person { skills: (0..KINDS.len()).map(|kind| skills.contains(&kind)).collect(), shifts, minutes_per_day })
    }

    fn stock(&mut self, field: &Field<'_>) -> Read<Stock> {
        add(&mut self.parts, &mut self.names.parts, &field.get("part")?)?;
        let arrivals = field.get("arrivals")?.each(|arrival| {
            let [day, quantity] = arrival.exactly("a day and a quantity")?;
            Ok((day.whole(0, MOST_DAYS)? as usize, quantity.whole(0, MOST)?))
        })?;
        Ok(Stock { on_hand: field.get("on_hand")?.whole(0, MOST)?, arrivals })
    }

    /// How many services of a group each day can carry: the sum over its gauges that are in.
    fn gauge_groups(&mut self, field: &Field<'_>, days: usize) -> Read<Vec<Vec<i64>>> {
        let mut groups: Vec<Vec<i64>> = Vec::new();
        field.each(|gauge| {
            gauge.get("gauge")?.text()?;
            let group = gauge.get("group")?.text()?;
            let index = *self.gauges.entry(group.clone()).or_insert_with(|| {
                self.names.gauges.push(group);
                groups.push(vec![0; days]);
                groups.len() - 1
            });
            let per_day = gauge.get("per_day")?.whole(0, MOST)?;
            let outs = gauge.get("out")?.each(|out| {
                let [first, last] = out.exactly("a first and a last day")?;
                Ok((first.whole(0, MOST_DAYS)? as usize, last.whole(0, MOST_DAYS)? as usize))
            })?;
            for (day, room) in groups[index].iter_mut().enumerate() {
                if !outs.iter().any(|(first, last)| (*first..=*last).contains(&day)) {
                    *room += per_day;
                }
            }
            Ok(())
        })?;
        Ok(groups)
    }

    /// A group that no gauge is in can carry nothing.
    fn group_without_gauges(&mut self, service: &Field<'_>, groups: &mut Vec<Vec<i64>>, days: usize) -> Read<()> {
        if let Some(group) = service.optional("gauge")? {
            let group = group.text()?;
            self.gauges.entry(group.clone()).or_insert_with(|| {
                self.names.gauges.push(group);
                groups.push(vec![0; days]);
                groups.len() - 1
            });
        }
        Ok(())
    }

    fn service(&self, field: &Field<'_>, days: usize) -> Read<Job> {
        let parts = field.get("parts")?.each(|part| {
            let [part, quantity] = part.exactly("a part and a quantity")?;
            Ok((part.one_of(&self.parts, "parts")?, quantity.whole(0, MOST)?))
        })?;
        let gauge = field.optional("gauge")?.map(|group| group.one_of(&self.gauges, "groups of the gauges"));
        let curve = field.get("crossed")?;
        let crossed = curve.each(|chance| chance.whole(0, 10_000))?;
        let points = (days - 1).div_ceil(7) + 1;
        if crossed.len() < points {
            return Err(curve.fault(&format!("give it {points} weekly points, up to the horizon's end")));
        }
        let booked = match field.optional("booked")? {
            // a window that is gone: any window is another one
            Some(window) => Some(Booked {
                window: self.windows.get(&window.text()?).copied(),
                move_cost: field.get("move_cost")?.whole(0, MOST_MONEY)?,
            }),
            None => None,
        };
        Ok(Job {
            machine: field.get("machine")?.one_of(&self.machines, "machines")?,
            kind: kind(&field.get("kind")?)?,
            minutes: field.get("minutes")?.whole(1, MOST)?,
            crew: field.get("crew")?.whole(1, 2)? as usize,
            parts,
            gauge: gauge.transpose()?,
            ready_day: field.get("ready_day")?.whole(0, MOST_DAYS)? as usize,
            crossed: Curve(crossed),
            hard_day: None,
            tail_days: field.get("tail_days")?.whole(0, MOST)?,
            day_below_cost: field.get("day_below_cost")?.whole(0, MOST_MONEY)?,
            unused_day_value: field.get("unused_day_value")?.whole(0, MOST_MONEY)?,
            standing: None,
            leave_cost: field.get("leave_cost")?.whole(0, MOST_MONEY)?,
            booked,
            held: field.optional("held")?.map(|held| self.held(&held)).transpose()?,
        })
    }

    fn held(&self, field: &Field<'_>) -> Read<Place> {
        Ok(Place {
            window: field.get("window")?.one_of(&self.windows, "windows")?,
            start: field.get("start")?.whole(-MOST, MOST)?,
            technicians: field.get("technicians")?.each(|who| who.one_of(&self.technicians, "technicians"))?,
        })
    }
}

/// Takes a new name in; each may stand once.
fn add(known: &mut BTreeMap<String, usize>, names: &mut Vec<String>, field: &Field<'_>) -> Read<()> {
    let text = field.text()?;
    if known.insert(text.clone(), names.len()).is_some() {
        return Err(field.fault("give each a name of its own"));
    }
    names.push(text);
    Ok(())
}

fn kind(field: &Field<'_>) -> Read<usize> {
    let text = field.text()?;
    KINDS.iter().position(|kind| *kind == text).ok_or_else(|| field.fault("write minor or major"))
}

fn span(from: &Field<'_>, to: &Field<'_>) -> Read<Span> {
    let span = Span { from: from.whole(-MOST, MOST)?, to: to.whole(-MOST, MOST)? };
    if span.to < span.from { Err(to.fault("let it end after it begins")) } else { Ok(span) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = include_str!("../../../tests/fixtures/planning/instance-20x8.json");

    #[track_caller]
    fn refused(from: &str, to: &str) -> InstanceError {
        assert!(SMALL.contains(from), "{from} stands in the file");
        read(&SMALL.replacen(from, to, 1), "shop.json").unwrap_err()
    }

    #[test]
    fn an_error_names_file_field_value_and_what_mends_it() {
        let fault = refused("\"minutes\":105", "\"minutes\":\"long\"");
        assert_eq!(
            fault.to_string(),
            "shop.json: services[0].minutes is \"long\": write a whole number from 1 to 1000000"
        );
        let fault = refused("\"visit_cost\":4000,", "");
        assert_eq!(fault.to_string(), "shop.json: visit_cost is missing: add it");
        let fault = refused("\"machine\":\"M001\",\"kind\"", "\"machine\":\"M999\",\"kind\"");
        assert_eq!(fault.to_string(), "shop.json: services[0].machine is \"M999\": name one of the machines");
        let fault = refused("\"crossed\":[0,1536,3342,5193,6849,8139,9017,9538,9808]", "\"crossed\":[0,1536]");
        assert_eq!(
            fault.to_string(),
            "shop.json: services[0].crossed is [0,1536]: give it 9 weekly points, up to the horizon's end"
        );
        let fault = refused("\"window\":\"W2\",\"machine\":\"M012\"", "\"window\":\"W2\"");
        assert_eq!(fault.field, "windows[1]");
        let fault = refused("\"window\":\"W2\"", "\"window\":\"W1\"");
        assert_eq!(fault.to_string(), "shop.json: windows[1].window is \"W1\": give each a name of its own");
        let fault = refused("[15,360,840]", "[15,360]");
        assert_eq!(fault.field, "technicians[0].shifts[0]");
        let fault = read("{", "shop.json").unwrap_err();
        assert_eq!((fault.field.as_str(), fault.mend.as_str()), ("the whole file", "write it as one JSON object"));
    }

    #[test]
    fn a_window_that_is_gone_makes_any_window_another_one() {
        let medium = include_str!("../../../tests/fixtures/planning/instance-60x16.json");
        let (problem, _) = read(medium, "shop.json").unwrap();
        let at = medium.find("\"booked\":\"").map(|at| at + 9).unwrap();
        let end = at + medium[at + 1..].find('"').unwrap() + 2;
        let text = format!("{}\"gone\"{}", &medium[..at], &medium[end..]);
        let (changed, _) = read(&text, "shop.json").unwrap();
        let windows = |problem: &Problem| {
            let booked = problem.services.iter().filter_map(|job| job.booked);
            booked.map(|booked| booked.window).collect::<Vec<_>>()
        };
        assert!(windows(&problem).iter().all(Option::is_some));
        assert_eq!(windows(&changed).iter().filter(|window| window.is_none()).count(), 1);
    }

    #[test]
    fn a_plan_is_written_with_its_keys() {
        let names = Names {
            services: vec!["A".to_owned(), "B".to_owned()],
            windows: vec!["W".to_owned()],
            technicians: vec!["T".to_owned()],
            ..Names::default()
        };
        let place = Place { window: 0, start: 420, technicians: vec![0] };
        let plan = Plan { places: vec![Some(place), None] };
        let parts = CostParts { moved: 7, ..CostParts::default() };
        let written = plan_json(&names, &plan, &[None, Some(LeftReason::Crew)], &parts, Some(5));
        assert_eq!(
            written.to_string(),
            concat!(
                r#"{"bound":5,"cost":7,"left":{"B":"crew"},"#,
                r#""parts":{"early":0,"left":0,"lockout":0,"move":7,"premium":0,"risk":0,"stop":0,"visit":0},"#,
                r#""plan":{"A":{"start":420,"technicians":["T"],"window":"W"}}}"#
            )
        );
    }
}
