//! Python bindings: each file converts, calls the core, and converts back.

mod agreement;
mod agreement_changes;
mod agreement_grids;
mod agreement_limits;
mod agreement_lines;
mod agreement_methods;
mod agreement_standards;
mod agreement_tables;
mod agreement_words;
mod align;
mod align_clock;
mod align_rules;
mod area;
mod arrow;
mod arrow_in;
mod arrow_text;
mod cleaning;
mod cohort;
mod cohort_columns;
mod cohort_people;
mod contrast;
mod contrast_carried;
mod contrast_helps;
mod contrast_plan;
mod convert;
mod error;
mod estimate;
mod histogram;
mod meals;
mod meals_tools;
mod meter;
mod numbers;
mod panel;
mod panel_options;
mod panel_parts;
mod panel_tables;
mod record;
mod review;
mod sensor;
mod sensor_accounts;
mod sensor_lives;
mod sensor_meter;
mod sensor_readings;
mod sensor_trace;
mod series;
mod simulate;
mod stream;
mod table;
mod tolerance;
mod tolerance_form;
mod tolerance_tables;
mod tolerance_terms;
mod trial;
mod wear;

use pyo3::prelude::*;

/// Compiled part of `glycemic`; use the package, not this module.
#[pymodule]
fn _glycemic(m: &Bound<'_, PyModule>) -> PyResult<()> {
    error::quiet_panics();
    m.add("__version__", env!("CARGO_PKG_VERSION"))?;
    m.add_function(wrap_pyfunction!(error::_panic, m)?)?;
    estimate::register(m)?;
    table::register(m)?;
    series::register(m)?;
    cleaning::register(m)?;
    meter::register(m)?;
    panel::register(m)?;
    panel_parts::register(m)?;
    panel_tables::register(m)?;
    histogram::register(m)?;
    stream::register(m)?;
    area::register(m)?;
    align::register(m)?;
    agreement::register(m)?;
    meals::register(m)?;
    tolerance::register(m)?;
    contrast::register(m)?;
    sensor::register(m)?;
    trial::register(m)?;
    review::register(m)?;
    cohort::register(m)?;
    simulate::register(m)?;
    // What is public is said by the package.
    m.delattr("__all__")
}
