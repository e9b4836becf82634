//! Contrasts under no effect, and the power that planning promises.
//!
//! Fast trials made here: two weeks of three meals, a part of them lost, doses uneven, days linked
//! or not, rises that spread more where they are high. The exposure depends on dose, time of day
//! or the day before, never on the outcome. The null hypothesis holds in each.

use glycemic_core::contrast::{Aim, Pair, by_days, by_meals, paired};
use glycemic_core::stats::binomial::clopper_pearson;
use glycemic_core::stats::random::Random;
use glycemic_core::{Error, Estimate};

use super::each_seed;

/// How the exposure comes about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Coming {
    /// By chance.
    Random,
    /// More often after large meals and dinners.
    ByDose,
    /// In runs of days.
    InRuns,
}

/// A fast world.
#[derive(Clone, Copy, Debug)]
pub struct World {
    /// Name.
    pub name: &'static str,
    /// Days.
    pub days: usize,
    /// Share of the exposed.
    pub share: f64,
    /// How the exposure comes.
    pub coming: Coming,
    /// Link of one day with the next.
    pub link: f64,
    /// SD of days on the log scale.
    pub day_sd: f64,
}

/// The rows of one made trial.
#[derive(Clone, Debug)]
pub struct Rows {
    /// Rises.
    pub outcome: Vec<f64>,
    /// Exposure of each meal.
    pub exposed: Vec<bool>,
    /// Grams, and two columns of time of day.
    pub adjust: Vec<Vec<f64>>,
    /// Days.
    pub day: Vec<i64>,
    /// Exposure of each day.
    pub days: Vec<(i64, bool)>,
}

/// Makes a trial; `effect` is added to the rise of the exposed (of the day's meals, by days).
pub fn made(world: &World, seed: u64, by_day: bool, effect: f64) -> Rows {
    let mut random = Random::keyed(seed, 77, 0);
    let fresh = (1.0 - world.link * world.link).sqrt();
    let mut shift = random.normal();
    let mut on = random.uniform() < world.share;
    let mut rows = Rows {
        outcome: vec![],
        exposed: vec![],
        adjust: vec![vec![]; 3],
        day: vec![],
        days: vec![],
    };
    for day in 0..world.days {
        // A run goes on with 0.7; the chance to begin one keeps the share.
        let stays = if on { 0.7 } else { 0.3 * world.share / (1.0 - world.share) };
        let chance = if world.coming == Coming::InRuns { stays } else { world.share };
        on = random.uniform() < chance;
        rows.days.push((day as i64, on));
        for slot in 0..3 {
            let grams = 8.0 + 67.0 * random.uniform() * (0.7 + 0.15 * slot as f64);
            let chance = match world.coming {
                Coming::Random => world.share,
                Coming::ByDose => world.share * (0.3 + grams / 50.0 + 0.3 * slot as f64).min(2.0),
                Coming::InRuns => {
                    if on {
                        0.9
                    } else {
                        0.05
                    }
                }
            };
            let walked = random.uniform() < chance;
            let own = skewed(0.25 * random.normal() + world.day_sd * shift);
            let rise = (0.75 - 0.1 * slot as f64) * grams * own + 4.0 * random.normal();
            let exposed = if by_day { on } else { walked };
            if random.uniform() < 0.25 {
                continue;
            }
            rows.outcome.push(rise + if exposed { effect } else { 0.0 });
            rows.exposed.push(walked);
            rows.adjust[0].push(grams);
            for (at, column) in rows.adjust[1..].iter_mut().enumerate() {
                column.push(f64::from(u8::from(slot == at + 1)));
            }
            rows.day.push(day as i64);
        }
        shift = world.link * shift + fresh * random.normal();
    }
    rows
}

/// (1 + z/8)^8: close to the exponential, from products alone.
fn skewed(z: f64) -> f64 {
    let one = (1.0 + z / 8.0).max(0.0);
    let two = one * one;
    let four = two * two;
    four * four
}

/// The worlds, fixed before the contrasts were tuned.
pub const WORLDS: &[World] = &[
    World { name: "plain", days: 14, share: 0.34, coming: Coming::Random, link: 0.0, day_sd: 0.15 },
    World {
        name: "by dose",
        days: 14,
        share: 0.34,
        coming: Coming::ByDose,
        link: 0.0,
        day_sd: 0.15,
    },
    World {
        name: "few walks",
        days: 14,
        share: 0.18,
        coming: Coming::ByDose,
        link: 0.7,
        day_sd: 0.15,
    },
    World {
        name: "linked days",
        days: 14,
        share: 0.34,
        coming: Coming::Random,
        link: 0.7,
        day_sd: 0.25,
    },
    World {
        name: "runs, linked",
        days: 14,
        share: 0.34,
        coming: Coming::InRuns,
        link: 0.7,
        day_sd: 0.25,
    },
    World {
        name: "four weeks",
        days: 28,
        share: 0.3,
        coming: Coming::InRuns,
        link: 0.7,
        day_sd: 0.25,
    },
];

/// p values of one world: by meals or by days; what can't be told is `None`.
///
/// # Errors
/// None that made trials should cause.
pub fn p_values(
    world: &World,
    first: u64,
    trials: u64,
    by_day: bool,
) -> Result<Vec<Option<f64>>, Error> {
    each_seed(first, trials, |seed| {
        let r = made(world, seed, by_day, 0.0);
        let told = if by_day {
            by_days(&r.outcome, &r.adjust, &r.day, &r.days, seed)?
        } else {
            by_meals(&r.outcome, &r.exposed, &r.adjust, &r.day, seed)?
        };
        Ok(told.ok().map(|e| e.p_value()))
    })
}

/// Rejections and how many could be told, at 5 % and at 10 %.
#[derive(Clone, Debug, PartialEq)]
pub struct Rejections {
    /// Where.
    pub world: String,
    /// Trials run.
    pub trials: usize,
    /// Trials with a p value.
    pub told: usize,
    /// p at or under 0.05 and at or under 0.10.
    pub at: [usize; 2],
    /// Percent of the told that are meant to be there at most.
    pub meant: [f64; 2],
}

impl Rejections {
    /// Counts p values.
    pub fn of(world: &str, p: &[Option<f64>]) -> Rejections {
        let told: Vec<f64> = p.iter().flatten().copied().collect();
        let under = |a: f64| told.iter().filter(|p| **p <= a).count();
        Rejections {
            world: world.to_string(),
            trials: p.len(),
            told: told.len(),
            at: [under(0.05), under(0.10)],
            meant: [5.0, 10.0],
        }
    }

    /// Share of the told at 5 % (0) or 10 % (1) with its exact 99 % interval, percent.
    ///
    /// # Errors
    /// None for counts of a study.
    pub fn share(&self, which: usize) -> Result<(f64, f64, f64), Error> {
        let (n, k) = (self.told.max(1), self.at[which]);
        let (low, high) = clopper_pearson(k, n, 0.99)?;
        Ok((100.0 * k as f64 / n as f64, 100.0 * low, 100.0 * high))
    }
}

/// A table of rejections; above what is meant beyond Monte Carlo error is bold.
///
/// # Errors
/// None for counts of a study.
pub fn rejections(rows: &[Rejections]) -> Result<String, Error> {
    let mut text = String::from(
        "| world | trials | told % | at 5 %: % (99 %) | at 10 %: % (99 %) |\n| --- | --- | --- | --- | --- |\n",
    );
    for r in rows {
        let cell = |which: usize| -> Result<String, Error> {
            let (share, low, high) = r.share(which)?;
            let bold = if low > r.meant[which] { "**" } else { "" };
            Ok(format!("{bold}{share:.1} ({low:.1}-{high:.1}){bold}"))
        };
        let told = 100.0 * r.told as f64 / r.trials.max(1) as f64;
        text.push_str(&format!(
            "| {} | {} | {told:.0} | {} | {} |\n",
            r.world,
            r.trials,
            cell(0)?,
            cell(1)?
        ));
    }
    Ok(text)
}

/// The null hypothesis in every world, by meals and by days.
///
/// # Errors
/// None that made trials should cause.
pub fn null(first: u64, trials: u64) -> Result<Vec<Rejections>, Error> {
    let mut rows = Vec::new();
    for by_day in [false, true] {
        for world in WORLDS {
            let name = format!("{}, {}", world.name, if by_day { "by days" } else { "by meals" });
            rows.push(Rejections::of(&name, &p_values(world, first, trials, by_day)?));
        }
    }
    Ok(rows)
}

/// Power promised for pairs and power seen: (words, promised, seen), percent.
///
/// # Errors
/// None that these numbers cause.
pub fn pairs_power(first: u64, trials: u64) -> Result<Vec<(String, f64, f64)>, Error> {
    let mut rows = Vec::new();
    for (effect, sd, skew) in
        [(10.0, 9.0, false), (10.0, 15.0, false), (10.0, 9.0, true), (20.0, 9.0, false)]
    {
        let aim = Aim { effect, sd, power: 0.8, level: 0.95 };
        let n = aim.pairs()?;
        let seen = each_seed(first, trials, |seed| {
            let mut random = Random::keyed(seed, 78, 0);
            let mut noise = || {
                let z = random.normal();
                // A skewed one with the same spread: (1 + z/8)^8 about its mean.
                if skew { (skewed(z) - SKEWED_MEAN) / SKEWED_SD * sd } else { z * sd }
            };
            let pairs: Vec<Pair> = (0..n)
                .map(|i| Pair {
                    with: 30.0 - effect + noise(),
                    without: 30.0 + noise(),
                    with_first: i % 2 == 0,
                })
                .collect();
            Ok(paired(&pairs, 0.95)?.p_value.is_some_and(|p| p <= 0.05))
        })?;
        let share = 100.0 * seen.iter().filter(|s| **s).count() as f64 / seen.len() as f64;
        let words =
            format!("{effect} mg/dL at SD {sd}{}: {n} pairs", if skew { ", skewed" } else { "" });
        rows.push((words, 100.0 * aim.power_of_pairs(n)?, share));
    }
    Ok(rows)
}

/// Mean and SD of (1 + z/8)^8: sums of even normal moments, by hand with binomial coefficients.
const SKEWED_MEAN: f64 =
    1.0 + 28.0 / 64.0 + 70.0 * 3.0 / 4096.0 + 28.0 * 15.0 / 262_144.0 + 105.0 / 16_777_216.0;
const SKEWED_SD: f64 = 1.591_501_289_2;

/// Each trial again with an effect as large as its own smallest visible one: the mean of these,
/// the power, which should be 80 %, and the coverage of the 90 % interval, percent.
///
/// # Errors
/// None that made trials should cause.
pub fn visible_power(
    world: &World,
    first: u64,
    trials: u64,
    by_day: bool,
) -> Result<(f64, f64, f64), Error> {
    let tell = |seed: u64, effect: f64| {
        let r = made(world, seed, by_day, effect);
        if by_day {
            by_days(&r.outcome, &r.adjust, &r.day, &r.days, seed)
        } else {
            by_meals(&r.outcome, &r.exposed, &r.adjust, &r.day, seed)
        }
    };
    let all = each_seed(first, trials, |seed| {
        let visible = tell(seed, 0.0)?.ok().and_then(|e| e.smallest_visible(0.95));
        let Some(visible) = visible else { return Ok(None) };
        let with = tell(seed, -visible)?.ok();
        Ok(with.map(|e| {
            let (low, high) = e.interval(0.9);
            let interval = Estimate { low, high, ..Estimate::default() };
            (visible, e.p_value() <= 0.05, interval.covers(-visible))
        }))
    })?;
    let told: Vec<(f64, bool, bool)> = all.into_iter().flatten().collect();
    let n = told.len().max(1) as f64;
    let share = |of: &dyn Fn(&(f64, bool, bool)) -> bool| {
        100.0 * told.iter().filter(|t| of(t)).count() as f64 / n
    };
    let mean = told.iter().map(|t| t.0).sum::<f64>() / n;
    Ok((mean, share(&|t| t.1), share(&|t| t.2)))
}
