//! The files of a trial and their columns, by our names.

/// Each file: its name without `.csv`, the columns it must have, and those it may have.
pub(super) const COLUMNS: &[(&str, &[&str], &[&str])] = &[
    ("sensor", &["time", "glucose"], &[]),
    ("meter", &["time", "glucose"], &["context"]),
    (
        "meals",
        &["time"],
        &[
            "end",
            "carbs_g",
            "carbs_low_g",
            "carbs_high_g",
            "fiber_g",
            "protein_g",
            "fat_g",
            "confidence",
            "label",
            "tags",
        ],
    ),
    ("activity", &["start", "minutes"], &["kind", "effort"]),
    ("sleep", &["start", "end"], &["quality"]),
    ("wear", &["time", "event"], &["sensor", "site", "value"]),
    ("notes", &["time", "kind"], &["severity", "text"]),
];
