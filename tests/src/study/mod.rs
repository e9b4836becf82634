//! Studies: an estimator is put to many simulated trials whose truth is known.
//!
//! A study names the figures it asks of one trial ([`Asked`]); the harness runs seeds on all
//! cores and reports, for each scenario and figure, how often it could be told, how often the
//! interval held the truth (with Monte Carlo error and the exact 99 % interval of that share), how
//! many intervals had an open end, how wide they were and how far off the value was.
//!
//! Tables are kept in `tests/studies/`, each with its seeds and the commit it was made from. Seeds
//! used for a kept table are used for nothing else.

pub mod agreement;
pub mod behaviour;
pub mod behaviour_events;
pub mod blood;
pub mod contrast;
pub mod contrast_trials;
pub mod lag;
pub mod levels;
pub mod meals;
pub mod pressure;
pub mod rise;
pub mod sensor;
pub mod tolerance;
pub mod tolerance_kinds;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use glycemic_core::simulate::{Scenario, Simulated, trial};
use glycemic_core::stats::binomial::clopper_pearson;
use glycemic_core::stats::quantile;
use glycemic_core::{Error, Estimate};

/// Level of the intervals in every study.
pub const LEVEL: f64 = 0.90;
/// Coverage that counts as calibrated at [`LEVEL`], percent.
pub const CALIBRATED_PCT: (f64, f64) = (88.0, 92.0);

/// One figure asked of one trial, beside its truth.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Name of the figure.
    pub figure: &'static str,
    /// What was true.
    pub truth: f64,
    /// What the estimator said.
    pub estimate: Estimate,
}

/// What a figure of a scenario came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Id of the scenario.
    pub scenario: String,
    /// Name of the figure.
    pub figure: &'static str,
    /// Trials run.
    pub trials: usize,
    /// Mean of the truths.
    pub truth: f64,
    /// Trials whose estimate has a value and an end or two.
    pub told: usize,
    /// Trials without a value that give a bound.
    pub bound: usize,
    /// Told trials whose interval holds the truth; an open end reaches to infinity.
    pub covered: usize,
    /// Told trials with an open end.
    pub open: usize,
    /// Median width of the intervals closed at both ends.
    pub width: Option<f64>,
    /// Median of value less truth.
    pub bias: Option<f64>,
}

impl Row {
    /// Share of the told whose interval holds the truth, percent.
    pub fn covered_pct(&self) -> f64 {
        share(self.covered, self.told)
    }

    /// Monte Carlo standard error of [`covered_pct`](Row::covered_pct).
    pub fn monte_carlo_se(&self) -> f64 {
        let p = self.covered_pct() / 100.0;
        100.0 * (p * (1.0 - p) / self.told.max(1) as f64).sqrt()
    }

    /// Exact 99 % interval of the coverage, percent.
    ///
    /// # Errors
    /// None for counts of a study.
    pub fn covered_99(&self) -> Result<(f64, f64), Error> {
        if self.told == 0 {
            return Ok((0.0, 100.0));
        }
        let (low, high) = clopper_pearson(self.covered, self.told, 0.99)?;
        Ok((100.0 * low, 100.0 * high))
    }

    /// Whether the 99 % interval of the coverage meets [`CALIBRATED_PCT`].
    ///
    /// # Errors
    /// None for counts of a study.
    pub fn calibrated(&self) -> Result<bool, Error> {
        let (low, high) = self.covered_99()?;
        Ok(low <= CALIBRATED_PCT.1 && high >= CALIBRATED_PCT.0)
    }
}

fn share(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

/// `make` for every seed of `first..first + trials`, on all cores, in the order of the seeds.
///
/// # Errors
/// The first error by seed.
pub fn each_seed<T: Send>(
    first: u64,
    trials: u64,
    make: impl Fn(u64) -> Result<T, Error> + Sync,
) -> Result<Vec<T>, Error> {
    let next = AtomicU64::new(0);
    let made = Mutex::new(Vec::new());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    if place >= trials {
                        break;
                    }
                    let one = make(first + place);
                    made.lock().unwrap_or_else(|e| e.into_inner()).push((place, one));
                }
            });
        }
    });
    let mut made = made.into_inner().unwrap_or_else(|e| e.into_inner());
    made.sort_by_key(|m| m.0);
    made.into_iter().map(|m| m.1).collect()
}

/// Runs a study over the trials of one scenario.
///
/// # Errors
/// As `ask`.
pub fn run(
    scenario: &Scenario,
    first: u64,
    trials: u64,
    ask: impl Fn(&Simulated) -> Result<Vec<Asked>, Error> + Sync,
) -> Result<Vec<Row>, Error> {
    let answers = each_seed(first, trials, |seed| ask(&trial(scenario, seed)))?;
    Ok(rows(scenario.id, &answers))
}

/// One row a figure, in the order in which figures first come.
pub fn rows(scenario: &str, answers: &[Vec<Asked>]) -> Vec<Row> {
    let mut figures: Vec<&'static str> = Vec::new();
    for asked in answers.iter().flatten() {
        if !figures.contains(&asked.figure) {
            figures.push(asked.figure);
        }
    }
    let of = |figure| {
        let all: Vec<&Asked> = answers.iter().flatten().filter(|a| a.figure == figure).collect();
        row(scenario, figure, &all)
    };
    figures.into_iter().map(of).collect()
}

fn row(scenario: &str, figure: &'static str, all: &[&Asked]) -> Row {
    let ends = |e: &Estimate| usize::from(e.low.is_some()) + usize::from(e.high.is_some());
    let told: Vec<&&Asked> =
        all.iter().filter(|a| a.estimate.estimable() && ends(&a.estimate) > 0).collect();
    let widths = told.iter().filter_map(|a| a.estimate.low.zip(a.estimate.high));
    let biases = told.iter().filter_map(|a| a.estimate.value.map(|v| v - a.truth));
    Row {
        scenario: scenario.to_string(),
        figure,
        trials: all.len(),
        truth: all.iter().map(|a| a.truth).sum::<f64>() / all.len().max(1) as f64,
        told: told.len(),
        bound: all.iter().filter(|a| !a.estimate.estimable() && ends(&a.estimate) > 0).count(),
        covered: told.iter().filter(|a| a.estimate.covers(a.truth)).count(),
        open: told.iter().filter(|a| ends(&a.estimate) < 2).count(),
        width: quantile::median(&widths.map(|(low, high)| high - low).collect::<Vec<f64>>()),
        bias: quantile::median(&biases.collect::<Vec<f64>>()),
    }
}

/// The rows as a table in Markdown; a coverage that fails is bold.
///
/// # Errors
/// None for counts of a study.
pub fn markdown(rows: &[Row]) -> Result<String, Error> {
    let mut text = String::from(
        "| scenario | figure | truth | trials | told % | bound % | covered % (99 %) | se | open % | median width | median bias |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_string(), |x| format!("{x:.2}"));
    for r in rows {
        let (low, high) = r.covered_99()?;
        let bold = if r.calibrated()? { "" } else { "**" };
        text.push_str(&format!(
            "| {} | {} | {:.2} | {} | {:.1} | {:.1} | {bold}{:.1} ({low:.1}-{high:.1}){bold} | {:.1} | {:.1} | {} | {} |\n",
            r.scenario,
            r.figure,
            r.truth,
            r.trials,
            share(r.told, r.trials),
            share(r.bound, r.trials),
            r.covered_pct(),
            r.monte_carlo_se(),
            share(r.open, r.told),
            number(r.width),
            number(r.bias),
        ));
    }
    Ok(text)
}

/// The commit the program was run from, with a plus when files differ from it.
pub fn commit() -> String {
    let git = |words: &[&str]| {
        let out = std::process::Command::new("git").args(words).output().ok()?;
        out.status.success().then(|| String::from_utf8_lossy(&out.stdout).trim().to_string())
    };
    let dirty = git(&["status", "--porcelain", "--untracked-files=no"]);
    match git(&["rev-parse", "--short", "HEAD"]) {
        Some(hash) if dirty.is_some_and(|d| d.is_empty()) => hash,
        Some(hash) => hash + "+",
        None => "unknown".to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use glycemic_core::stats::distribution::t_two_sided;
    use glycemic_core::stats::{moments, random::Random};

    fn asked(figure: &'static str, truth: f64, estimate: Estimate) -> Asked {
        Asked { figure, truth, estimate }
    }

    #[test]
    fn counts_are_right_by_hand() {
        let half_open = Estimate { high: None, ..Estimate::new(5.0, 4.0, 6.0, LEVEL, "", 3) };
        let bound =
            Estimate { value: None, low: None, ..Estimate::new(5.0, 4.0, 6.0, LEVEL, "", 3) };
        let silent = Estimate { value: None, low: None, high: None, ..Estimate::default() };
        let answers: Vec<Vec<Asked>> = vec![
            vec![asked("a", 5.5, Estimate::new(5.0, 4.0, 6.0, LEVEL, "", 3))],
            vec![asked("a", 7.0, Estimate::new(5.0, 4.0, 6.0, LEVEL, "", 3))],
            vec![asked("a", 9.0, half_open)],
            vec![asked("a", 5.0, bound)],
            vec![asked("a", 5.0, silent)],
        ];
        let r = &rows("x", &answers)[0];
        assert_eq!((r.trials, r.told, r.bound, r.covered, r.open), (5, 3, 1, 2, 1));
        assert_eq!((r.width, r.bias), (Some(2.0), Some(-2.0)));
        assert!((r.covered_pct() - 200.0 / 3.0).abs() < 1e-12);
    }

    /// Student's t of normal samples covers at its level (Student 1908), a z-interval of five
    /// values does not: 90 % becomes about 82 %. The harness must tell them apart.
    #[test]
    fn tells_a_calibrated_interval_from_one_that_is_not() {
        let with = |quantile: f64, figure| {
            let answers = each_seed(1, 4000, |seed| {
                let mut random = Random::keyed(seed, 0, 0);
                let x: Vec<f64> = (0..5).map(|_| random.normal()).collect();
                let mean = moments::mean(&x).unwrap_or(0.0);
                let half = quantile * moments::sd(&x).unwrap_or(0.0) / 5f64.sqrt();
                let e = Estimate::new(mean, mean - half, mean + half, LEVEL, "", 5);
                Ok(vec![asked(figure, 0.0, e)])
            });
            rows("x", &answers.unwrap()).remove(0)
        };
        let (t, z) = (with(t_two_sided(LEVEL, 4.0), "t"), with(1.644_853_6, "z"));
        assert!(t.calibrated().unwrap(), "{t:?}");
        assert!(!z.calibrated().unwrap(), "{z:?}");
        assert!((z.covered_pct() - 82.5).abs() < 4.0 * z.monte_carlo_se(), "{z:?}");
        assert!(markdown(&[z]).unwrap().contains("**"));
    }

    #[test]
    fn threads_change_nothing() {
        let one = each_seed(7, 100, |seed| Ok(seed * seed)).unwrap();
        assert_eq!(one, (7..107).map(|s| s * s).collect::<Vec<u64>>());
        let error = each_seed(0, 10, |seed| {
            if seed >= 3 { Err(Error::UnorderedTime { index: seed as usize }) } else { Ok(seed) }
        });
        assert_eq!(error, Err(Error::UnorderedTime { index: 3 }));
    }
}
