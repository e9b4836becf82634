//! Makes `glycemic-ffi/include/glycemic.h` from the Rust source; with `--check` only compares.
//!
//! `cargo run -p glycemic-tests --features header --bin header -- --check`

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;
use std::process::ExitCode;

use glycemic_core::panel::MEASURES;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let check = match std::env::args().nth(1).as_deref() {
        None => false,
        Some("--check") => true,
        Some(other) => {
            return Err(format!("unknown argument {other}; there is only --check").into());
        }
    };
    let ffi = Path::new(env!("CARGO_MANIFEST_DIR")).join("../glycemic-ffi");
    let path = ffi.join("include/glycemic.h");
    let made = make(&ffi)?;
    if std::fs::read_to_string(&path).is_ok_and(|kept| kept == made) {
        println!("glycemic.h is up to date");
        return Ok(ExitCode::SUCCESS);
    }
    if check {
        eprintln!("glycemic.h differs from the source: run the header tool without --check");
        return Ok(ExitCode::FAILURE);
    }
    std::fs::write(&path, made)?;
    println!("wrote {}", path.display());
    Ok(ExitCode::SUCCESS)
}

fn make(ffi: &Path) -> Result<String, Box<dyn Error>> {
    let mut config = cbindgen::Config::from_file(ffi.join("cbindgen.toml"))?;
    config.after_includes = Some(measures()?);
    let builder = cbindgen::Builder::new().with_config(config).with_src(ffi.join("src/lib.rs"));
    let mut text = Vec::new();
    builder.generate()?.write(&mut text);
    let text = String::from_utf8(text)?;
    match text.is_ascii() {
        true => Ok(text),
        false => Err("the header must be ASCII: look for other characters in the comments".into()),
    }
}

/// The ids of the measures, from the registry, each with what it is and its unit.
fn measures() -> Result<String, std::fmt::Error> {
    let mut out = String::from("\n");
    for m in MEASURES {
        writeln!(out, "// {} [{}]. {}.", m.what, m.unit, m.source)?;
        writeln!(out, "#define GLYC_MEASURE_{} {}", m.name.to_uppercase(), m.id as u32)?;
    }
    Ok(out)
}
