//! Undo and redo: whatever was done, in whatever order, comes back exactly.

use almanac_core::actions::{Action, Change, ImportBatch, Table};
use almanac_core::ids::{ReadingId, Row, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::machine::Machine;
use almanac_core::moment::parse_iso_date;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::store::{Access, ShopTable, StepStamp, StepState, Store, StoreError};
use almanac_core::units::{Kilonewtons, Unit};
use almanac_tests::any_action::{VARIANTS, any_action, variant};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn stamp(who: &str) -> StepStamp {
    let at = parse_iso_date("2026-03-02").unwrap().and_hms_opt(8, 0, 0).unwrap();
    StepStamp { at, who: who.to_owned() }
}

fn spindle(name: &str) -> Spindle {
    Spindle::named(name, Interface::parse("HSK-A63").unwrap(), Kilonewtons::new(18.0).unwrap())
}

/// What a user, or a restart, does.
#[derive(Debug, Clone)]
enum Move {
    Do(Box<Action>),
    Undo,
    Redo,
    Reopen,
}

fn any_move() -> impl Strategy<Value = Move> {
    prop_oneof![
        12 => any_action().prop_map(|action| Move::Do(Box::new(action))),
        3 => Just(Move::Undo),
        2 => Just(Move::Redo),
        1 => Just(Move::Reopen),
    ]
}

/// All that stands in the shop: as it is loaded, and for a file each value exactly as it is stored.
#[derive(Debug, Clone, PartialEq)]
struct Dump {
    shop: Shop,
    rows: Vec<String>,
}

fn rows_in(path: &Path) -> Vec<String> {
    let connection = rusqlite::Connection::open(path).unwrap();
    let mut rows = Vec::new();
    for table in ShopTable::ALL.map(ShopTable::name) {
        let columns: Vec<String> = connection
            .prepare("SELECT name FROM pragma_table_info(?1)")
            .unwrap()
            .query_map([table], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let quoted: Vec<String> = columns.iter().map(|column| format!("quote({column})")).collect();
        let sql = format!("SELECT concat_ws(',', '{table}', {}) FROM {table} ORDER BY id", quoted.join(","));
        let mut statement = connection.prepare(&sql).unwrap();
        rows.extend(statement.query_map([], |row| row.get::<_, String>(0)).unwrap().map(Result::unwrap));
    }
    rows
}

/// A shop in memory or in a file, with what undo is expected to lead back to.
struct Session {
    store: Option<Store>,
    path: Option<PathBuf>,
    dumps: Vec<Dump>,
    at: usize,
}

impl Session {
    fn new(path: Option<PathBuf>) -> Self {
        let store = match &path {
            Some(path) => Store::create(path).unwrap(),
            None => Store::open_in_memory().unwrap(),
        };
        let mut session = Self { store: Some(store), path, dumps: Vec::new(), at: 0 };
        session.dumps.push(session.dump());
        // something for the actions by chance to meet
        for name in ["R-1", "R-2"] {
            let machine = Machine { positions: 2, ..Machine::named(name, "hall-1") };
            assert!(session.act(Action::Machine(Change::Add(machine))));
        }
        for name in ["S-1", "S-2", "S-3"] {
            assert!(session.act(Action::Spindle(Change::Add(spindle(name)))));
        }
        session
    }

    fn store(&mut self) -> &mut Store {
        self.store.as_mut().unwrap()
    }

    fn dump(&self) -> Dump {
        let rows = self.path.as_deref().map(rows_in).unwrap_or_default();
        Dump { shop: self.store.as_ref().unwrap().load_shop().unwrap(), rows }
    }

    #[track_caller]
    fn expect_present(&self) {
        assert_eq!(self.dump(), self.dumps[self.at]);
    }

    /// Whether the action was done.
    fn act(&mut self, action: Action) -> bool {
        let known = self.dumps[self.at].shop.clone();
        match self.store().perform(action, &stamp("doer")) {
            Ok(changes) if !changes.is_empty() => {
                let dump = self.dump();
                assert_eq!(self.store().reload(&known, &changes).unwrap(), dump.shop);
                self.dumps.truncate(self.at + 1);
                self.dumps.push(dump);
                self.at += 1;
                true
            }
            Ok(_nothing_new) => {
                self.expect_present();
                false
            }
            Err(error) => {
                assert!(!error.to_string().is_empty());
                self.expect_present();
                false
            }
        }
    }

    fn undo(&mut self) {
        let result = self.store().undo(&stamp("undoer"));
        if self.at == 0 {
            assert!(matches!(result, Err(StoreError::NothingToUndo)));
        } else {
            let known = self.dumps[self.at].shop.clone();
            self.at -= 1;
            self.expect_present();
            assert_eq!(self.store().reload(&known, &result.unwrap()).unwrap(), self.dumps[self.at].shop);
        }
    }

    fn redo(&mut self) {
        let result = self.store().redo(&stamp("redoer"));
        if self.at + 1 == self.dumps.len() {
            assert!(matches!(result, Err(StoreError::NothingToRedo)));
        } else {
            result.unwrap();
            self.at += 1;
            self.expect_present();
        }
    }

    fn reopen(&mut self) {
        if let Some(path) = self.path.clone() {
            self.store = None;
            self.store = Some(Store::open(&path, Access::ReadWrite).unwrap());
            self.expect_present();
        }
    }

    fn run(&mut self, moves: Vec<Move>, done: &mut BTreeMap<&'static str, u32>) {
        for step in moves {
            match step {
                Move::Do(action) => {
                    let variant = variant(&action);
                    *done.entry(variant).or_default() += u32::from(self.act(*action));
                }
                Move::Undo => self.undo(),
                Move::Redo => self.redo(),
                Move::Reopen => self.reopen(),
            }
        }
        while self.at > 0 {
            self.undo();
        }
        self.undo();
        self.reopen();
        while self.at + 1 < self.dumps.len() {
            self.redo();
        }
        self.redo();
        assert_eq!(self.store().check().unwrap(), Vec::<String>::new());
    }
}

/// Runs that many sequences by chance, the same ones each time; gives back what was done how often.
fn run_sequences(cases: u32, longest: usize, in_file: bool) -> BTreeMap<&'static str, u32> {
    let done = RefCell::new(BTreeMap::new());
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let mut runner = match std::env::var_os("ALMANAC_RANDOM") {
        Some(_) => TestRunner::new(config),
        None => TestRunner::new_with_rng(
            config,
            proptest::test_runner::TestRng::deterministic_rng(proptest::test_runner::RngAlgorithm::ChaCha),
        ),
    };
    runner
        .run(&vec(any_move(), 1..longest), |moves| {
            let folder = tempfile::tempdir().unwrap();
            let mut session = Session::new(in_file.then(|| folder.path().join("shop.almanac")));
            session.run(moves, &mut done.borrow_mut());
            Ok(())
        })
        .unwrap();
    done.into_inner()
}

#[test]
fn any_sequence_is_undone_and_redone_in_memory() {
    let done = run_sequences(150, 80, false);
    // each kind of action was really done, not only refused
    assert_eq!(done.values().filter(|times| **times >= 5).count(), VARIANTS, "{done:?}");
}

#[test]
fn any_sequence_is_undone_and_redone_in_a_file_with_restarts() {
    run_sequences(12, 50, true);
}

/// Above 100,000 new rows a step is written down as ranges of rows.
#[test]
fn a_large_import_is_one_step_that_is_undone_and_redone() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = Session::new(Some(folder.path().join("shop.almanac")));
    let first = parse_iso_date("2020-01-01").unwrap();
    let readings: Vec<Row<ReadingId, Reading>> = (0..100_005_i64)
        .map(|index| {
            // a gap in the row numbers, so that there are two ranges
            let id = ReadingId::from_row(if index < 60_000 { 1 + index } else { 11 + index });
            let spindle = SpindleId::from_row(if index % 2 == 0 { 1 } else { 101 });
            let day = first + chrono::Days::new(index as u64 % 2000);
            let typed = format!("{}.{:03}", 10 + index % 7, index % 1000);
            let strokes = vec![Stroke::parse(&typed, Unit::PoundForce).unwrap()];
            Row { id, value: Reading::of(spindle, day.into(), Phase::Routine, Unit::PoundForce, strokes) }
        })
        .collect();
    let mut batch = ImportBatch { source: "a large file".to_owned(), ..ImportBatch::default() };
    batch.spindles = Table {
        added: vec![Row { id: SpindleId::from_row(101), value: spindle("S-101") }],
        changed: vec![Row { id: SpindleId::from_row(2), value: Spindle { notes: "new".to_owned(), ..spindle("S-2") } }],
    };
    batch.readings.added = readings;
    assert!(session.act(Action::Import(Box::new(batch.clone()))));
    let store = session.store();
    assert_eq!(store.undo_label().unwrap().as_deref(), Some("Import a large file: 100,007 rows"));
    let entries = store.journal(10, 0).unwrap();
    let rows: Vec<_> = entries.iter().filter_map(|entry| entry.after.as_deref()).take(4).collect();
    assert_eq!(rows[1..], ["40,005 rows", "60,000 rows", "1 row"]);
    session.undo();
    session.reopen();
    session.redo();
    session.reopen();
    assert_eq!(session.store().check().unwrap(), Vec::<String>::new());
    // the same rows again: their numbers are taken, and nothing is changed
    let error = session.store().perform(Action::Import(Box::new(batch)), &stamp("doer")).unwrap_err();
    assert_eq!(error.to_string(), "the row number of a new spindle is already taken; read the files again");
    session.expect_present();
    session.undo();
    // another step: what was undone stays in the journal, and can no longer be redone
    assert!(session.act(Action::Spindle(Change::Add(spindle("S-4")))));
    session.redo();
    let states: Vec<StepState> = session.store().journal(3, 0).unwrap().iter().map(|entry| entry.state).collect();
    assert_eq!(states, [StepState::Done, StepState::Dropped, StepState::Dropped]);
}
