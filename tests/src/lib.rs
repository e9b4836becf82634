//! Support code for the tests package.
