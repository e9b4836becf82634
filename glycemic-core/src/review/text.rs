//! A review in the terminal: a line for each question, then the cautions.

use super::answer::{Answer, Figure, Review, Status};
use super::cautions::caution;

/// The figures that the short summary shows, by question.
const SHOWN: &[(&str, &[&str])] = &[
    ("data", &["days", "active_pct", "gaps", "meals", "meter_readings"]),
    ("trust", &["mard_pct", "bias_mg_dl", "within_20_20_pct", "lag_less_clock_min"]),
    ("levels", &["mean_mg_dl", "fasting_mg_dl", "tight_range_pct", "mean_mg_dl_in_blood"]),
    ("meals", &["clean_meals", "mean_rise_noise_aware_mg_dl", "over_target_pct"]),
    ("tolerance", &["safe_g", "limit_g"]),
    ("misfits", &["eating_out_extra_rise_mg_dl"]),
    ("helps", &["walk_difference_mg_dl", "walk_smallest_visible_mg_dl"]),
    ("change", &["meal_size_trend_g_week"]),
    ("next", &["repeats_each"]),
    ("showing", &["renderings"]),
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
    let parts: Vec<String> = shown.iter().filter_map(|id| a.figure(id)).map(figure).collect();
    if a.status == Status::CantTell || parts.is_empty() {
        let why: Vec<&str> = a.reasons.iter().map(|r| r.text.as_str()).collect();
        return format!("Can't tell: {}.", why.join("; "));
    }
    let unclear = a.reasons.iter().find(|r| r.code == "direction_unclear");
    let unclear = unclear.map(|r| format!("; {}", r.text)).unwrap_or_default();
    format!("{}{unclear}.", parts.join("; "))
}

/// `label 31 g (27 to 36)`, or why not.
pub fn figure(f: &Figure) -> String {
    let unit = if f.unit == "1" { String::new() } else { format!(" {}", f.unit) };
    let e = &f.estimate;
    let range = match (e.low, e.high) {
        (Some(l), Some(h)) => format!(" ({} to {})", number(l), number(h)),
        (Some(l), None) => format!(" (at least {})", number(l)),
        (None, Some(h)) => format!(" (at most {})", number(h)),
        (None, None) => String::new(),
    };
    match e.value {
        Some(v) => format!("{} {}{unit}{range}", f.label, number(v)),
        None => {
            let why = e.reason.as_ref().map_or("no reason given", |r| r.text.as_str());
            format!("{}: can't tell{range}, {why}", f.label)
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
