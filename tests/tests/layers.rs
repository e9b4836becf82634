//! The rooms of the core and what they may use: a room imports from the layers above it, beside
//! it only without a loop, and never from below.
//!
//! Read from the text of the sources: `crate::room`, `use crate::{room, …}`, names that the
//! crate's root hands on, and `super::` where it leaves a room. Comments don't count. Test code
//! may use `simulate` as well.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// From the ground up. A room missing here fails the test: say where it belongs.
const LAYERS: [(&str, &[&str]); 7] = [
    ("ground", &["error", "units", "estimate", "table"]),
    ("numerics", &["stats", "interpolate", "area"]),
    ("series", &["series", "clock"]),
    ("measures", &["panel", "agreement", "align", "meals"]),
    ("inference", &["sensor", "tolerance", "contrast"]),
    ("whole", &["trial", "review", "cohort"]),
    ("apart", &["simulate"]),
];
const SERIES: usize = 2;
const APART: usize = 6;
const MOST_LINES: usize = 600;

#[test]
fn rooms_keep_their_layers() {
    let sources = core_sources();
    assert!(sources.len() > 20, "only {} source files were found", sources.len());
    let found = breaches(&sources);
    assert!(found.is_empty(), "{} breaches:\n{}", found.len(), found.join("\n"));
}

/// In the bindings, where the manual stands on the functions, doc comments don't count.
#[test]
fn files_are_short() {
    let root = workspace();
    let mut long = Vec::new();
    for folder in ["glycemic-core/src", "glycemic-py/src", "glycemic-ffi/src", "tests/tests"] {
        let bindings = !folder.starts_with("glycemic-core");
        for (path, text) in sources(&root.join(folder)) {
            let counts = |line: &&str| !(bindings && line.trim_start().starts_with("///"));
            let lines = text.lines().filter(counts).count();
            if lines > MOST_LINES {
                long.push(format!("{folder}/{path}: {lines} lines"));
            }
        }
    }
    assert!(long.is_empty(), "over {MOST_LINES} lines:\n{}", long.join("\n"));
}

#[test]
fn a_planted_breach_is_found() {
    let lib = (
        "lib.rs",
        "pub mod units;\npub use panel::{Panel, registry::Id as MeasureId};\npub use error::Error;\n",
    );
    let found = |files: &[(&str, &str)]| {
        let all = std::iter::once(&lib).chain(files);
        breaches(&all.map(|(p, t)| (p.to_string(), t.to_string())).collect::<Vec<_>>())
    };
    let one = |path: &str, text: &str, named: &str| {
        let got = found(&[(path, text)]);
        assert!(got.len() == 1 && got[0].contains(named), "{path}, {text}: {got:?}");
    };
    let none = |path: &str, text: &str| {
        let got = found(&[(path, text)]);
        assert!(got.is_empty(), "{path}, {text}: {got:?}");
    };
    // From below, in every spelling.
    one("units.rs", "use crate::panel::Panel;\n", "panel");
    one(
        "series/trace.rs",
        "use crate::{error::Error, review::{Review, render}, units::Unit};\n",
        "review",
    );
    one("stats/line.rs", "fn f() -> f64 { crate::series::nominal() }\n", "series");
    one(
        "stats/line.rs",
        "pub(crate) use crate::{\n    error::{self, Error},\n    meals,\n};\n",
        "meals",
    );
    one("area.rs", "use crate::Panel;\n", "panel");
    one("area.rs", "use crate::MeasureId;\n", "panel");
    one("area.rs", "use super::tolerance::fit;\n", "tolerance");
    one("stats/line.rs", "use super::super::clock::LocalClock;\n", "clock");
    one("area.rs", "mod tests {\n    use super::super::trial;\n}\n", "trial");
    one("review/mod.rs", "use crate::simulate::Person;\n", "simulate");
    // The two rooms with a rule of their own.
    one("agreement/summary.rs", "use crate::series::Trace;\n", "series");
    one("agreement/summary.rs", "use crate::clock::LocalClock;\n", "clock");
    one("simulate/mod.rs", "use crate::tolerance::fit;\n", "tolerance");
    one("simulate/mod.rs", "use crate::panel;\n", "panel");
    // A room or a name that nobody knows.
    one("attic.rs", "fn f() {}\n", "attic");
    one("area.rs", "use crate::cellar::Wine;\n", "cellar");
    // A loop beside each other.
    let got = found(&[
        ("meals/mod.rs", "use crate::panel::a;"),
        ("panel/mod.rs", "use crate::meals::b;"),
    ]);
    assert!(
        got.iter().any(|b| b.contains("loop") && b.contains("meals") && b.contains("panel")),
        "{got:?}"
    );
    let beside =
        [("meals/mod.rs", "use crate::panel::a;"), ("panel/mod.rs", "use crate::error::Error;")];
    assert!(found(&beside).is_empty());
    // What is allowed.
    none(
        "panel/mod.rs",
        "use crate::{error::Error, series::Trace};\n// use crate::review;\n/* crate::trial */\n",
    );
    none("simulate/folder.rs", "use super::sensor::noise;\nuse super::trial::Trial;\n");
    none("stats/mod.rs", "#[cfg(test)]\nmod tests {\n    use super::panel;\n}\n");
    none("tolerance/fit.rs", "#[cfg(test)]\nmod tests {\n    use crate::simulate::person;\n}\n");
    none("tolerance/fit_tests.rs", "use crate::simulate::person;\n");
    none("review/mod.rs", "use crate::{trial, tolerance, Error};\n");
}

/// Every import that the layers forbid, every room without a layer, and every loop.
fn breaches(sources: &[(String, String)]) -> Vec<String> {
    let handed_on =
        sources.iter().find(|(path, _)| path == "lib.rs").map(|(_, text)| handed_on(text));
    let handed_on = handed_on.unwrap_or_default();
    let mut found = BTreeSet::new();
    let mut graph: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (path, text) in sources.iter().filter(|(path, _)| path != "lib.rs") {
        let room = room_of(path);
        let Some(own) = layer(&room) else {
            found.insert(format!("{path}: the room {room} has no layer"));
            continue;
        };
        for Import { name, test } in imports(path, text) {
            let to = handed_on.get(&name).cloned().unwrap_or(name);
            let Some(other) = layer(&to) else {
                found.insert(format!(
                    "{path}: crate::{to} is no room and nothing the root hands on"
                ));
                continue;
            };
            if to == room || (test && to == "simulate") {
                continue;
            }
            graph.entry(room.clone()).or_default().insert(to.clone());
            let forbidden = match room.as_str() {
                "simulate" => other > SERIES,
                "agreement" => other >= SERIES,
                _ => other > own || other == APART,
            };
            if forbidden {
                let (mine, theirs) = (LAYERS[own].0, LAYERS[other].0);
                found.insert(format!("{path}: {room} ({mine}) may not use {to} ({theirs})"));
            }
        }
    }
    for room in graph.keys() {
        if let Some(path) = way_back(&graph, room) {
            found.insert(format!("a loop: {}", path.join(" -> ")));
        }
    }
    found.into_iter().collect()
}

fn layer(room: &str) -> Option<usize> {
    LAYERS.iter().position(|(_, rooms)| rooms.contains(&room))
}

/// `series/trace.rs` and `series.rs` are in the room `series`.
fn room_of(path: &str) -> String {
    path.split('/').next().unwrap_or(path).trim_end_matches(".rs").to_string()
}

/// A way from `start` along the imports back to it, if there is one.
fn way_back(graph: &BTreeMap<String, BTreeSet<String>>, start: &str) -> Option<Vec<String>> {
    let mut open = vec![vec![start.to_string()]];
    let mut seen = BTreeSet::new();
    while let Some(path) = open.pop() {
        for next in graph.get(path.last()?).into_iter().flatten() {
            let longer = || path.iter().chain([next]).cloned().collect::<Vec<_>>();
            if next == start {
                return Some(longer());
            }
            if seen.insert(next.clone()) {
                open.push(longer());
            }
        }
    }
    None
}

/// A name taken from the crate's root, and whether test code takes it.
struct Import {
    name: String,
    test: bool,
}

fn imports(path: &str, text: &str) -> Vec<Import> {
    let text = without_comments(text);
    let test_file = path.ends_with("tests.rs");
    // How many `super::` lead from this file to the root.
    let depth = path.trim_end_matches(".rs").split('/').filter(|part| *part != "mod").count();
    let inline = inline_modules(&text);
    let mut out = Vec::new();
    let mut take = |at: usize, rest: &str| {
        let test = test_file || inline.iter().any(|m| m.range.contains(&at) && m.test);
        out.extend(names(rest).into_iter().map(|name| Import { name, test }));
    };
    for (at, word) in text.match_indices("crate::") {
        let before = text[..at].chars().next_back();
        if !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '$') {
            take(at, &text[at + word.len()..]);
        }
    }
    for (at, _) in text.match_indices("super::") {
        if text[..at].ends_with("super::") {
            continue;
        }
        let ups = text[at..].split("super::").take_while(|part| part.is_empty()).count();
        let inside = inline.iter().filter(|m| m.range.contains(&at)).count();
        if ups == depth + inside {
            let rest = &text[at + ups * "super::".len()..];
            // `super::*` and what a file has of its own are not imports.
            out_rooms(rest, |rest| take(at, rest));
        }
    }
    out
}

/// Calls `take` when the path goes on with the name of a room.
fn out_rooms(rest: &str, mut take: impl FnMut(&str)) {
    if names(rest).iter().all(|name| layer(name).is_some()) {
        take(rest);
    }
}

/// A module written inside a file: rustfmt puts its braces at the start of lines.
struct Inline {
    range: std::ops::Range<usize>,
    test: bool,
}

fn inline_modules(text: &str) -> Vec<Inline> {
    let mut out = Vec::new();
    let (mut at, mut open, mut test) = (0, None, false);
    for line in text.split_inclusive('\n') {
        let start = line.trim_end();
        match open {
            None if start.starts_with("#[cfg(test)]") => test = true,
            None if start.ends_with('{') && start.split(' ').any(|word| word == "mod") => {
                open = Some((at, test));
            }
            None if !start.starts_with("#[") => test = false,
            Some((from, test_module)) if start == "}" => {
                out.push(Inline { range: from..at, test: test_module });
                (open, test) = (None, false);
            }
            _ => {}
        }
        at += line.len();
    }
    out
}

/// The first names of a path or of a group of paths: `a::b` is a; `{a, b::{c, d}}` is a and b.
fn names(rest: &str) -> Vec<String> {
    let word = |text: &str| -> String {
        text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    let Some(group) = rest.strip_prefix('{') else {
        return Some(word(rest))
            .filter(|name| !name.is_empty() && name != "self")
            .into_iter()
            .collect();
    };
    let (mut level, mut part, mut out) = (0, String::new(), Vec::new());
    for c in group.chars() {
        match c {
            '}' if level == 0 => break,
            '{' => level += 1,
            '}' => level -= 1,
            ',' if level == 0 => out.push(std::mem::take(&mut part)),
            _ => {}
        }
        if c != ',' || level > 0 {
            part.push(c);
        }
    }
    out.push(part);
    out.iter().map(|p| word(p)).filter(|name| !name.is_empty() && name != "self").collect()
}

/// What the crate's root hands on: the name it has there, and its room.
fn handed_on(lib: &str) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for statement in without_comments(lib).split(';') {
        let Some(path) = statement.trim().strip_prefix("pub use ") else { continue };
        let room = names(path).concat();
        for word in path.split(|c: char| "{},".contains(c)) {
            let last = word.rsplit("::").next().unwrap_or(word);
            let last = last.rsplit(" as ").next().unwrap_or(last).trim();
            if !last.is_empty() && last != room {
                out.insert(last.to_string(), room.clone());
            }
        }
    }
    out
}

fn without_comments(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(start) = rest.find("/*") {
        // A `/*` after `//` on its line is part of that comment.
        let line = rest[..start].rfind('\n').map_or(0, |n| n + 1);
        if rest[line..start].contains("//") {
            out.push_str(&rest[..start + 2]);
            rest = &rest[start + 2..];
            continue;
        }
        out.push_str(&rest[..start]);
        rest = rest[start..].find("*/").map_or("", |end| &rest[start + end + 2..]);
    }
    out.push_str(rest);
    out.lines()
        .map(|line| line.split("//").next().unwrap_or(line))
        .fold(String::new(), |all, line| all + line + "\n")
}

/// Asked when the test runs: a copy of the workspace may share this build.
fn workspace() -> PathBuf {
    PathBuf::from(std::env::var("CARGO_MANIFEST_DIR").unwrap()).parent().unwrap().to_path_buf()
}

fn core_sources() -> Vec<(String, String)> {
    sources(&workspace().join("glycemic-core/src"))
}

/// Every Rust file under a folder: its path from there, and its text.
fn sources(folder: &Path) -> Vec<(String, String)> {
    fn walk(folder: &Path, root: &Path, out: &mut Vec<(String, String)>) {
        let Ok(entries) = std::fs::read_dir(folder) else { return };
        for path in entries.map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                walk(&path, root, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
                out.push((name, std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    let mut out = Vec::new();
    walk(folder, folder, &mut out);
    out.sort();
    out
}
