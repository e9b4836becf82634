//! Reads a trial's folder and prints its review: `review FOLDER [--json]`.

use glycemic_core::review::{Options, review};
use glycemic_core::trial::{OnBadRows, Trial};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let folder = words.next().unwrap_or_else(|| "examples/demo_trial".into());
    let trial = Trial::read(&folder, OnBadRows::Stop)?;
    let answers = review(&trial, Options::default(), &mut |_| true)?;
    if words.any(|w| w == "--json") {
        println!("{}", answers.to_json());
    } else {
        print!("{}", answers.text());
    }
    Ok(())
}
