//! Rules that a plan can break, each in words.

use super::names::{Names, name};
use super::problem::Span;

/// A rule that a plan breaks, with whom and where it does.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(missing_docs, reason = "the fields are what their names say, as indices of the problem")]
pub enum Broken {
    /// A held service has no place.
    HeldLeft { service: usize },
    /// A held service stands elsewhere, at another time or with other people.
    HeldChanged { service: usize },
    /// The window is none of its machine.
    WrongWindow { service: usize, window: usize },
    /// Before the first day on which it may be done.
    NotReady { service: usize, day: usize },
    /// It does not lie wholly inside its window.
    OutsideWindow { service: usize, span: Span },
    /// It starts before the lockout of its stop is done.
    BeforeLockout { service: usize, first: usize },
    /// Too few, too many, unknown people, or one of them twice.
    Crew { service: usize, wanted: usize },
    /// The one who leads lacks the skill.
    NoSkill { service: usize, technician: usize },
    /// It lies in no shift of one of its people.
    NotThere { service: usize, technician: usize },
    /// One person at two services at a time.
    PersonTwice { technician: usize, day: usize, one: usize, other: usize },
    /// One person longer at services than a day allows.
    TooLong { technician: usize, day: usize, minutes: i64, allowed: i64 },
    /// Two services of one machine at a time.
    MachineTwice { machine: usize, day: usize, one: usize, other: usize },
    /// More services than the gauges of a group can carry.
    GaugesTaken { group: usize, day: usize, services: Vec<usize>, room: i64 },
    /// More of a part than is there.
    PartShort { part: usize, day: usize, taken: i64, there: i64 },
}

impl Broken {
    /// The fault without its times: a service outside its window is so whether or not it does the
    /// lockout, and its length depends on what stands beside it.
    #[must_use]
    pub fn without_times(&self) -> Self {
        match self {
            Self::OutsideWindow { service, .. } => {
                Self::OutsideWindow { service: *service, span: Span { from: 0, to: 0 } }
            }
            other => other.clone(),
        }
    }

    /// One sentence without its full stop; days counted from the first day of the plan, which is day 0.
    #[must_use]
    pub fn words(&self, names: &Names) -> String {
        let service = |index: &usize| name(&names.services, *index);
        let person = |index: &usize| name(&names.technicians, *index);
        match self {
            Self::HeldLeft { service: of } => format!("{} is held but has no place", service(of)),
            Self::HeldChanged { service: of } => {
                format!("{} is held and stands elsewhere, at another time or with other people", service(of))
            }
            Self::WrongWindow { service: of, window } => {
                format!(
                    "{} stands in {}, which is no window of its machine",
                    service(of),
                    name(&names.windows, *window)
                )
            }
            Self::NotReady { service: of, day } => {
                format!("{} stands on day {day}, before it may be done", service(of))
            }
            Self::OutsideWindow { service: of, span } => {
                let (from, to) = (clock(span.from), clock(span.to));
                format!("{} from {from} to {to} does not lie inside its window", service(of))
            }
            Self::BeforeLockout { service: of, first } => {
                format!("{} starts before the lockout by {} is done", service(of), service(first))
            }
            Self::Crew { service: of, wanted } => {
                let people = if *wanted == 1 { "one person" } else { "two different people" };
                format!("{} needs {people} whom the shop knows", service(of))
            }
            Self::NoSkill { service: of, technician } => {
                format!("{} leads {} without the skill for it", person(technician), service(of))
            }
            Self::NotThere { service: of, technician } => {
                format!("{} has no shift that covers {}", person(technician), service(of))
            }
            Self::PersonTwice { technician, day, one, other } => {
                format!(
                    "{} is at {} and {} at the same time on day {day}",
                    person(technician),
                    service(one),
                    service(other)
                )
            }
            Self::TooLong { technician, day, minutes, allowed } => {
                format!("{} is {minutes} min at services on day {day}, {allowed} min are allowed", person(technician))
            }
            Self::MachineTwice { machine, day, one, other } => {
                let machine = name(&names.machines, *machine);
                format!("{} and {} overlap on {machine} on day {day}", service(one), service(other))
            }
            Self::GaugesTaken { group, day, services, room } => {
                let group = name(&names.gauges, *group);
                format!(
                    "{} services need a gauge of group {group} on day {day}, which can carry {room}",
                    services.len()
                )
            }
            Self::PartShort { part, day, taken, there } => {
                let part = name(&names.parts, *part);
                format!("{taken} of {part} are taken up to day {day}, and {there} are there")
            }
        }
    }
}

/// Minutes of the shop's day as hours and minutes since it began.
fn clock(minutes: i64) -> String {
    format!("{}{}:{:02}", if minutes < 0 { "-" } else { "" }, minutes.abs() / 60, minutes.abs() % 60)
}
