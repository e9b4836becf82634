//! Episodes found in one pass against the definition, spelt out reading by reading.

use glycemic_core::panel::episodes::{Rule, Side, episodes};
use glycemic_core::panel::options::EpisodeLength;
use glycemic_core::series::Builder;
use glycemic_core::{Trace, Unit};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const START: i64 = 1_741_000_000_000;
const FIVE: i64 = 300_000;

/// Readings that walk about the levels, so that runs of all lengths occur.
fn glucose() -> impl Strategy<Value = Vec<f64>> {
    (45..280_i32, prop::collection::vec(-14..15_i32, 1..300)).prop_map(|(start, steps)| {
        let mut value = start;
        steps
            .into_iter()
            .map(|step| {
                value = (value + step).clamp(41, 300);
                f64::from(value)
            })
            .collect()
    })
}

fn trace(glucose: &[f64]) -> Trace {
    let times: Vec<i64> = (0..glucose.len() as i64).map(|i| START + i * FIVE).collect();
    Builder::new(Unit::MgDl).build(&times, glucose).unwrap()
}

/// Start: the first place from which `need` readings in a row are beyond the level. End: the
/// first place after them from which `need` in a row are back. As (start, end, cut).
fn by_definition(glucose: &[f64], rule: &Rule, need: usize) -> Vec<(i64, i64, bool)> {
    let (level, recovery) = (rule.level.mg_dl, rule.recovery.mg_dl);
    let low = rule.side == Side::Below;
    let beyond = |g: &f64| if low { *g < level } else { *g > level };
    let back = |g: &f64| if low { *g >= recovery } else { *g <= recovery };
    let all = |from: usize, f: &dyn Fn(&f64) -> bool| {
        glucose.get(from..from + need).is_some_and(|w| w.iter().all(f))
    };
    let last = match rule.length {
        EpisodeLength::Span => glucose.len() - 1,
        _ => glucose.len(),
    };
    let (mut out, mut at) = (Vec::new(), 0);
    while let Some(start) = (at..glucose.len()).find(|&i| all(i, &beyond)) {
        let recovered = (start + need..glucose.len()).find(|&i| all(i, &back));
        let trailing = glucose.iter().rev().take_while(|g| back(g)).count();
        let end = recovered.unwrap_or(if trailing > 0 { glucose.len() - trailing } else { last });
        out.push((start as i64, end as i64, start == 0 || recovered.is_none()));
        at = recovered.unwrap_or(glucose.len());
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        cases: 400,
        ..ProptestConfig::default()
    })]

    #[test]
    fn one_pass_finds_what_the_definition_says(glucose in glucose()) {
        let trace = trace(&glucose);
        let runs = [(Rule::LOW, 3), (Rule::VERY_LOW, 3), (Rule::HIGH, 3), (Rule::VERY_HIGH, 3)];
        for (rule, need) in runs {
            for (length, need) in [(EpisodeLength::CountTimesInterval, need), (EpisodeLength::Span, need + 1)] {
                let rule = rule.counted(length);
                let found: Vec<_> = episodes(trace.view(), &rule)
                    .unwrap()
                    .iter()
                    .map(|e| ((e.start_ms - START) / FIVE, (e.end_ms - START) / FIVE, e.cut))
                    .collect();
                prop_assert_eq!(found, by_definition(&glucose, &rule, need), "{}", rule.name);
            }
        }
    }

    /// More than 90 of 120 minutes above 250, by looking at every window.
    #[test]
    fn an_extended_high_is_found_when_a_window_holds_it(bits in prop::collection::vec(0.0..1.0_f64, 24..60), share in 0.6..0.95_f64) {
        let glucose: Vec<f64> = bits.iter().map(|&b| if b < share { 260.0 } else { 230.0 }).collect();
        let held = glucose.windows(24).any(|w| w.iter().filter(|g| **g > 250.0).count() >= 19);
        let found = episodes(trace(&glucose).view(), &Rule::EXTENDED_HIGH).unwrap();
        // 230 is not back at 180, so there is at most one.
        prop_assert_eq!(found.len(), usize::from(held));
    }
}
