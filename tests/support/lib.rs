//! What tests, benches and the demo generator share.

pub mod any_action;
pub mod calibration;
pub mod due_list;
pub mod fleet;
pub mod form_shop;
pub mod hand_shop;
pub mod harness;
pub mod killed;
pub mod measure;
pub mod plain_csv;
pub mod plan_page;
pub mod plan_view;
pub mod planning;
pub mod planning_shop;
pub mod random_shop;
pub mod sample_shop;
pub mod small_shop;
