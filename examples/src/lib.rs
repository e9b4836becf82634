//! Support code for the examples package.
