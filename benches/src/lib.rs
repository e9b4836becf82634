//! Support code for the benches package.
