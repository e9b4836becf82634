//! Writes the demo trial: an invented person, simulated from published models, with its truth.
//!
//! `cargo run --release -p glycemic-examples --bin make_demo [FOLDER] [SCENARIO] [SEED]`

use std::path::PathBuf;

use glycemic_core::simulate::{Scenario, full_trial};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let folder = PathBuf::from(words.next().unwrap_or_else(|| "examples/demo_trial".into()));
    let id = words.next().unwrap_or_else(|| "demo".into());
    let seed: u64 = words.next().unwrap_or_else(|| "1".into()).parse()?;
    let scenario = Scenario::named(&id).ok_or_else(|| format!("there is no scenario \"{id}\""))?;
    std::fs::create_dir_all(&folder)?;
    for (name, text) in full_trial(&scenario, seed).files() {
        std::fs::write(folder.join(name), text)?;
    }
    println!("wrote {}", folder.display());
    Ok(())
}
