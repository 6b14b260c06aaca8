//! What can be typed on the command line.

use almanac_core::moment::parse_iso_date;
use almanac_core::planning::proposal::PLAN_WEEKS;
use chrono::NaiveDate;
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const ABOUT: &str = "Knows, weeks ahead, which spindle needs its gripper service before which date, and why.";

const AFTER: &str = "\
SHOP is a shop file (NAME.almanac) or a shop folder (CSV files, such as sample-shop).
Without a command the window opens; without a display the due list is printed instead.

Exit status: 0 done; 1 the work could not be done (one sentence on stderr); 2 wrong usage.

Examples:
  drawbar-almanac sample-shop                       open the demo
  drawbar-almanac due sample-shop                   the due list, for people
  drawbar-almanac due works.almanac --format json   the same for a script
  drawbar-almanac import works.almanac sample-shop  read a shop folder into a shop file
  drawbar-almanac orders works.almanac --out list.csv
  drawbar-almanac calendar works.almanac --out services.ics
  drawbar-almanac plan works.almanac --apply        book what is due into downtime windows
  drawbar-almanac track-record works.almanac        how good its forecasts have been so far";

/// The command line.
#[derive(Debug, Parser)]
#[command(name = "drawbar-almanac", version, about = ABOUT, after_help = AFTER, args_conflicts_with_subcommands = true)]
pub struct Args {
    /// Shop file or shop folder to open in the window
    pub shop: Option<PathBuf>,

    /// What to do without the window
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// The headless commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Print the due list: one row per spindle, soonest service-by date first
    Due(DueArgs),
    /// Print the work-order list: open orders and spindles to book
    Orders(OrdersArgs),
    /// Write the booked services as iCalendar, for the calendars of the plant
    Calendar(CalendarArgs),
    /// Propose a place in a downtime window for each service that is due, with costs and reasons
    Plan(PlanArgs),
    /// Score the forecast on the shop's own past
    TrackRecord(TrackRecordArgs),
    /// Read CSV files or shop folders into a shop file (made if missing)
    Import(ImportArgs),
    /// Write the shop folder: the whole shop as CSV files
    Export(ExportArgs),
    /// Write a consistent copy of a shop file and check it; never over an existing file
    Backup(BackupArgs),
    /// Check a shop file and its content; each fault in one sentence, exit status 1 if there is one
    Check(CheckArgs),
}

/// How to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Aligned columns for people
    Table,
    /// Comma-separated values (RFC 4180)
    Csv,
    /// JSON
    Json,
}

/// Which shop, from which day.
#[derive(Debug, clap::Args)]
pub struct ShopArgs {
    /// Shop file or shop folder
    pub shop: PathBuf,

    /// Look at the shop as it was known on that day (nothing recorded later is used), such as
    /// 2026-03-02; default: the as_of of the shop, else today
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub as_of: Option<NaiveDate>,
}

/// In which form, and where to.
#[derive(Debug, clap::Args)]
pub struct PrintArgs {
    /// How to print
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub format: Format,

    /// Write to this file instead of stdout (through a temporary file and a rename)
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

const DUE: &str = "\
Under the table, and in json as worth_reading, stand the readings worth taking in the next round: those that
would save at least twice what taking them costs (five minutes of labour), or at least 5 units of the shop's
currency where labour has no price, and the first reading of a spindle that was never measured.";

/// `due`
#[derive(Debug, clap::Args)]
#[command(after_help = DUE)]
pub struct DueArgs {
    /// Which shop.
    #[command(flatten)]
    pub shop: ShopArgs,

    /// How and where to.
    #[command(flatten)]
    pub print: PrintArgs,
}

/// `orders`
#[derive(Debug, clap::Args)]
#[command(mut_arg("format", |format| format.default_value("csv")))]
pub struct OrdersArgs {
    /// Which shop.
    #[command(flatten)]
    pub shop: ShopArgs,

    /// Closed orders too
    #[arg(long)]
    pub all: bool,

    /// How and where to.
    #[command(flatten)]
    pub print: PrintArgs,
}

const PLAN: &str = "\
Due is every mounted spindle whose service-by date lies in the weeks ahead and that has no service under
way. What is held, issued or under way stays where it is; what is booked moves where that pays. What finds
no place is left, with its reason: date (no window), window (none long enough), crew, gauge, parts, dearer.

json: plan and left by spindle, money in whole cents; bound is null where nothing honest can be said of the
cheapest possible plan. csv: one row per service, money in the shop's currency.";

/// `plan`
#[derive(Debug, clap::Args)]
#[command(after_help = PLAN)]
pub struct PlanArgs {
    /// Which shop.
    #[command(flatten)]
    pub shop: ShopArgs,

    /// How many weeks ahead
    #[arg(long, value_name = "N", default_value_t = PLAN_WEEKS, value_parser = clap::value_parser!(u32).range(1..=260))]
    pub weeks: u32,

    /// Accept the proposal: new and changed orders, one step that can be undone; needs a shop file
    #[arg(long)]
    pub apply: bool,

    /// How and where to.
    #[command(flatten)]
    pub print: PrintArgs,
}

const CALENDAR: &str = "\
Every open order with a start is an event: planned ones tentative, issued ones confirmed. Times are local
to the shop, without a time zone, and stay what they are when clocks change. Importing a newer file updates
the events of an older one. An order closed as not done before its day is written as cancelled; one that was
taken off the list is no longer in the file, so delete its event by hand, or let the calendar subscribe to
the file. Names of events are made from the shop's name and the order number.";

/// `calendar`
#[derive(Debug, clap::Args)]
#[command(after_help = CALENDAR)]
pub struct CalendarArgs {
    /// Which shop.
    #[command(flatten)]
    pub shop: ShopArgs,

    /// Write to this file (through a temporary file and a rename)
    #[arg(long, value_name = "FILE.ics")]
    pub out: PathBuf,

    /// Only the services of this technician, leading or not
    #[arg(long, value_name = "NAME")]
    pub technician: Option<String>,

    /// Only the services in this hall
    #[arg(long, value_name = "NAME")]
    pub hall: Option<String>,
}

const TRACK_RECORD: &str = "\
Every past routine or as-found force reading at least 30 days after the one before it is forecast from
what was known the day before, and every past crossing of the service limit is held against the date
forecast for it 60 days before. The naive line is least squares through the readings since the last
service. Doubted readings are not scored.

table and json give the figures: counts, and no percentage of fewer than 20. csv gives one row per scored
reading: spindle, days, reading, forecast, bands, whether inside, CRPS, naive line; _pct is percent of
nominal force.";

/// `track-record`
#[derive(Debug, clap::Args)]
#[command(after_help = TRACK_RECORD)]
pub struct TrackRecordArgs {
    /// Which shop.
    #[command(flatten)]
    pub shop: ShopArgs,

    /// How and where to.
    #[command(flatten)]
    pub print: PrintArgs,
}

/// `import`
#[derive(Debug, clap::Args)]
pub struct ImportArgs {
    /// Shop file to read into; made if missing
    pub shop: PathBuf,

    /// CSV files or shop folders; a file given alone is known by its name, else by its header
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,

    /// Say what would happen, write nothing
    #[arg(long)]
    pub dry_run: bool,

    /// Take the good rows in although others are refused
    #[arg(long)]
    pub accept_good_rows: bool,

    /// How to print the report
    #[arg(long, value_enum, default_value_t = Format::Table)]
    pub format: Format,

    /// Write the report to this file instead of stdout
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// `export`
#[derive(Debug, clap::Args)]
pub struct ExportArgs {
    /// Shop file or shop folder
    pub shop: PathBuf,

    /// Folder to write; made if missing, other files in it stay
    pub folder: PathBuf,
}

/// `backup`
#[derive(Debug, clap::Args)]
pub struct BackupArgs {
    /// Shop file
    pub shop: PathBuf,

    /// The copy; must not exist yet
    pub file: PathBuf,
}

/// `check`
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// Shop file or shop folder
    pub shop: PathBuf,
}

fn date(text: &str) -> Result<NaiveDate, String> {
    parse_iso_date(text)
        .ok_or_else(|| format!("'{text}' is not a day of the years 1900 to 2199; expected a date such as 2026-03-02"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn the_command_line_is_consistent() {
        Args::command().debug_assert();
    }

    #[test]
    fn a_path_opens_the_window_and_a_word_is_a_command() {
        let window = Args::parse_from(["drawbar-almanac", "sample-shop"]);
        assert!(window.command.is_none() && window.shop.is_some());
        let due = Args::parse_from(["drawbar-almanac", "due", "sample-shop", "--as-of", "2026-03-02"]);
        assert!(matches!(due.command, Some(Command::Due(_))));
        assert!(Args::try_parse_from(["drawbar-almanac", "due", "x", "--as-of", "2026-02-31"]).is_err());
    }

    #[test]
    fn lists_are_printed_for_people_and_orders_as_csv_unless_said_otherwise() {
        let print = |words: &[&str]| {
            let words = ["drawbar-almanac"].iter().chain(words);
            match Args::parse_from(words).command {
                Some(Command::Due(args)) => args.print,
                Some(Command::Orders(args)) => args.print,
                Some(Command::Plan(args)) => args.print,
                Some(Command::TrackRecord(args)) => args.print,
                other => panic!("{other:?}"),
            }
        };
        for command in ["due", "plan", "track-record"] {
            assert_eq!(print(&[command, "x"]).format, Format::Table, "{command}");
        }
        assert_eq!(print(&["orders", "x"]).format, Format::Csv);
        let json = print(&["orders", "x", "--format", "json", "--out", "list.json"]);
        assert_eq!((json.format, json.out), (Format::Json, Some(PathBuf::from("list.json"))));
    }
}
