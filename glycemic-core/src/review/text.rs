//! A review in the terminal: a line for each question, then the cautions.

use super::answer::{Answer, Figure, Review, Status};
use super::cautions::caution;
use crate::table::Items;

/// What the short summary shows of each answer: figures, and the words before each.
const SHOWN: &[(&str, &[(&str, &str)])] = &[
    (
        "data",
        &[
            ("days", "readings over"),
            ("active_pct", "active"),
            ("gaps", "gaps"),
            ("longest_gap_min", "the longest"),
            ("meals", "meals"),
            ("meter_readings", "meter readings"),
        ],
    ),
    (
        "trust",
        &[
            ("bias_mg_dl", "levels: sensor less meter"),
            ("within_20_20_pct", "pairs within 20 mg/dL or 20 %"),
            ("rise_difference_mg_dl", "rises: sensor less meter"),
            ("low_difference_mg_dl", "lows"),
            ("lag_less_clock_min", "timing: sensor later by"),
        ],
    ),
    (
        "levels",
        &[
            ("mean_mg_dl", "as the sensor reads: mean"),
            ("fasting_mg_dl", "fasting"),
            ("tight_range_pct", "time in 70-140 mg/dL"),
            ("mean_mg_dl_in_blood", "in blood: mean"),
        ],
    ),
    (
        "meals",
        &[
            ("clean_meals", "meals alone in their window"),
            ("mean_rise_noise_aware_mg_dl", "their mean rise, noise taken off"),
            ("over_target_pct", "of all meals, over a target as displayed"),
        ],
    ),
    (
        "tolerance",
        &[
            ("safe_g", "a new meal stays under with 80 % up to"),
            ("limit_g", "the mean rise meets the target, so about half of such meals go over, at"),
            ("safe_under_peak_g", "under both targets, rise and peak, up to"),
            ("safe_in_blood_g", "in blood, by this meter: a new meal stays under with 80 % up to"),
        ],
    ),
    (
        "misfits",
        &[("eating_out_extra_rise_mg_dl", "meals eaten out rose beyond their diary grams by")],
    ),
    (
        "helps",
        &[
            (
                "randomised_difference",
                "drawn by lot, so caused by what was assigned: a difference of",
            ),
            (
                "assigned_difference",
                "meals assigned with went, against those without, with a difference of",
            ),
            ("walk_difference_mg_dl", "a walk after the meal went with a rise different by"),
            ("walk_smallest_visible_mg_dl", "such a trial sees effects from"),
        ],
    ),
    ("change", &[("meal_size_trend_g_week", "net carbohydrate per meal changed by")]),
    ("next", &[("repeats_each", "to see 10 mg/dL with 80 % power, meals with and without, each")]),
    ("showing", &[("renderings", "terminal, JSON, page, tables, methods paragraph: ways")]),
];

impl Review {
    /// One sentence for each answer, in the order of the questions.
    pub fn sentences(&self) -> Vec<String> {
        self.answers.iter().map(line).collect()
    }

    /// The ten answers, a line each, and the cautions.
    pub fn text(&self) -> String {
        let mut out = String::new();
        for (number, a) in self.answers.iter().enumerate() {
            out.push_str(&format!("{:>2}. {} {}\n", number + 1, a.question, line(a)));
        }
        out.push('\n');
        for code in &self.cautions {
            out.push_str(&format!(" ! {}\n", caution(code)));
        }
        out
    }
}

fn line(a: &Answer) -> String {
    let shown = SHOWN.iter().find(|s| s.0 == a.id).map_or(&[][..], |s| s.1);
    let parts: Vec<String> =
        shown.iter().filter_map(|(id, words)| a.figure(id).map(|f| figure(words, f))).collect();
    if a.status == Status::CantTell || parts.is_empty() {
        let why: Vec<&str> = a.reasons.iter().map(|r| r.text.as_str()).collect();
        return format!("Can't tell: {}.", why.join("; "));
    }
    let unclear = a.reasons.iter().filter(|r| r.code == "direction_unclear");
    let unclear: String = unclear.map(|r| format!("; {}", r.text)).collect();
    capital(&format!("{}{unclear}{}.", parts.join("; "), next(a)))
}

/// What to do next, where the answer says so in its table of that name.
fn next(a: &Answer) -> String {
    let table = a.tables.iter().find(|t| t.0 == "trust_next").map(|t| &t.1);
    let what = table.and_then(|t| t.column("what")).map(|c| &c.items);
    match what {
        Some(Items::Text(steps)) if !steps.is_empty() => format!("; next: {}", steps.join("; ")),
        _ => String::new(),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}

/// `words 31 g (27 to 36)`, or why not.
pub fn figure(words: &str, f: &Figure) -> String {
    let unit = if f.unit == "1" { String::new() } else { format!(" {}", f.unit) };
    let e = &f.estimate;
    let range = match (e.low, e.high) {
        (Some(l), Some(h)) => format!(" ({} to {})", number(l), number(h)),
        (Some(l), None) => format!(" (at least {})", number(l)),
        (None, Some(h)) => format!(" (at most {})", number(h)),
        (None, None) => String::new(),
    };
    match e.value {
        Some(v) => format!("{words} {}{unit}{range}", number(v)),
        None => {
            let why = e.reason.as_ref().map_or("no reason given", |r| r.text.as_str());
            format!("{words}: can't tell{range}, {why}")
        }
    }
}

/// Three digits, or whole numbers from 100 on.
pub fn number(v: f64) -> String {
    let digits = if v == v.round() || v.abs() >= 100.0 {
        0
    } else if v.abs() >= 1.0 {
        1
    } else {
        2
    };
    format!("{v:.digits$}")
}
