//! What must hold for any input: laws, not values.

use approx::{assert_relative_eq, relative_eq};
use glycemic_core::agreement::within;
use glycemic_core::area::{Rule, incremental, total};
use glycemic_core::interpolate::{Method, on_minutes};
use glycemic_core::panel::{self, Histogram, Id, MEASURES, Needs, Options, order_free};
use glycemic_core::series::Builder;
use glycemic_core::stats::quantile;
use glycemic_core::{Panel, Trace, Unit};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const START: i64 = 1_741_000_000_000;
const RULES: [Rule; 3] = [Rule::Positive, Rule::Net, Rule::UntilReturn];
const SHARES: [Id; 5] = [Id::VeryLowPct, Id::LowPct, Id::InRangePct, Id::HighPct, Id::VeryHighPct];

/// Times in minutes, rising strictly, and a value for each.
fn curve() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    prop::collection::vec((1.0..60.0_f64, 40.0..400.0_f64), 2..40).prop_map(|points| {
        let mut at = 0.0;
        points
            .into_iter()
            .map(|(step, value)| {
                at += step;
                (at, value)
            })
            .unzip()
    })
}

/// Readings of a sensor in whole mg/dL.
fn readings() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((40..400_i32).prop_map(f64::from), 2..200)
}

fn every_five_minutes(n: usize) -> Vec<i64> {
    (0..n as i64).map(|i| START + i * 300_000).collect()
}

fn trace(unit: Unit, glucose: &[f64]) -> Trace {
    Builder::new(unit).build(&every_five_minutes(glucose.len()), glucose).unwrap()
}

fn measures(unit: Unit, glucose: &[f64]) -> Panel {
    panel::panel(trace(unit, glucose).view(), &[])
}

fn close(a: f64, b: f64) -> bool {
    relative_eq!(a, b, epsilon = 1e-6, max_relative = 1e-9)
}

/// The same cases in every run; another seed to search on.
fn config() -> ProptestConfig {
    ProptestConfig {
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    /// Twice the rise over thrice the time is six times the area.
    #[test]
    fn area_scales((minutes, values) in curve(), by in 0.1..10.0_f64, stretch in 0.1..10.0_f64) {
        let scaled: Vec<f64> = values.iter().map(|v| v * by).collect();
        let stretched: Vec<f64> = minutes.iter().map(|m| m * stretch).collect();
        prop_assert!(close(total(&stretched, &scaled).unwrap(), by * stretch * total(&minutes, &values).unwrap()));
        for rule in RULES {
            let plain = incremental(&minutes, &values, None, rule).unwrap();
            let got = incremental(&stretched, &scaled, None, rule).unwrap();
            prop_assert!(close(got, by * stretch * plain), "{rule:?}: {got} and {plain}");
        }
    }

    /// An incremental area knows neither the level nor the clock.
    #[test]
    fn area_shifts((minutes, values) in curve(), up in -30.0..300.0_f64, later in -1e4..1e4_f64) {
        let raised: Vec<f64> = values.iter().map(|v| v + up).collect();
        let moved: Vec<f64> = minutes.iter().map(|m| m + later).collect();
        let span = minutes[minutes.len() - 1] - minutes[0];
        prop_assert!(close(total(&moved, &raised).unwrap(), total(&minutes, &values).unwrap() + up * span));
        // From below all values the rules are one; from above there is nothing.
        let base = values[0];
        for rule in RULES {
            let plain = incremental(&minutes, &values, Some(base), rule).unwrap();
            let got = incremental(&moved, &raised, Some(base + up), rule).unwrap();
            // Where the curve touches its baseline to rounding, the rule may stop elsewhere.
            let touches = values[1..].iter().any(|v| (v - base).abs() < 1e-6);
            prop_assert!(touches || close(got, plain), "{rule:?}: {got} and {plain}");
            let under = incremental(&minutes, &values, Some(0.0), rule).unwrap();
            prop_assert!(close(under, total(&minutes, &values).unwrap()));
        }
        prop_assert_eq!(incremental(&minutes, &values, Some(500.0), Rule::Positive).unwrap(), 0.0);
    }

    /// The rules in order, and the net area as what is above less what is below.
    #[test]
    fn area_rules_agree((minutes, values) in curve(), base in 40.0..400.0_f64) {
        let by = |rule| incremental(&minutes, &values, Some(base), rule).unwrap();
        prop_assert!(by(Rule::UntilReturn) >= 0.0);
        prop_assert!(by(Rule::UntilReturn) <= by(Rule::Positive) * (1.0 + 1e-12));
        let mirrored: Vec<f64> = values.iter().map(|v| 2.0 * base - v).collect();
        let below = incremental(&minutes, &mirrored, Some(base), Rule::Positive).unwrap();
        prop_assert!(close(by(Rule::Net), by(Rule::Positive) - below));
    }

    /// A point on the line between two others changes no area.
    #[test]
    fn area_of_a_split_piece((minutes, values) in curve(), base in 40.0..400.0_f64, share in 0.01..0.99_f64) {
        let (mut m, mut v) = (minutes.clone(), values.clone());
        m.insert(1, minutes[0] + share * (minutes[1] - minutes[0]));
        v.insert(1, values[0] + share * (values[1] - values[0]));
        for rule in [Rule::Positive, Rule::Net] {
            let whole = incremental(&minutes, &values, Some(base), rule).unwrap();
            prop_assert!(close(incremental(&m, &v, Some(base), rule).unwrap(), whole));
        }
    }

    #[test]
    fn units_go_there_and_back(tenths in 10..400_i32, mg_dl in 20.0..700.0_f64) {
        for unit in [Unit::MgDl, Unit::MmolL] {
            assert_relative_eq!(unit.to_mg_dl(unit.from_mg_dl(mg_dl)), mg_dl, max_relative = 1e-15);
        }
        let mmol = f64::from(tenths) / 10.0;
        prop_assert_eq!(Unit::MmolL.snap(Unit::MmolL.from_mg_dl(Unit::MmolL.to_mg_dl(mmol))), mmol);
        prop_assert_eq!(Unit::MmolL.snap(f64::from(mmol as f32)), mmol);
    }

    /// In either unit every reading lies in one range, and the coarse shares are sums.
    #[test]
    fn shares_are_whole(glucose in readings()) {
        for unit in [Unit::MgDl, Unit::MmolL] {
            let shown: Vec<f64> = match unit {
                Unit::MmolL => glucose.iter().map(|g| (g / 18.0156 * 10.0).round() / 10.0).collect(),
                _ => glucose.clone(),
            };
            let p = measures(unit, &shown);
            let get = |id| p.get(id).unwrap();
            prop_assert!((SHARES.iter().map(|&id| get(id)).sum::<f64>() - 100.0).abs() < 1e-10);
            prop_assert!((get(Id::VeryLowPct) + get(Id::LowPct) - get(Id::Below70Pct)).abs() < 1e-10);
            prop_assert!((get(Id::HighPct) + get(Id::VeryHighPct) - get(Id::Above180Pct)).abs() < 1e-10);
            prop_assert!(get(Id::TightRangePct) <= get(Id::InRangePct));
        }
    }

    /// Levels move with the readings; spreads don't.
    #[test]
    fn panel_shifts(glucose in readings(), up in 1..200_i32) {
        let up = f64::from(up);
        let raised: Vec<f64> = glucose.iter().map(|g| g + up).collect();
        let (p, q) = (measures(Unit::MgDl, &glucose), measures(Unit::MgDl, &raised));
        for id in [Id::MeanMgDl, Id::MinMgDl, Id::MaxMgDl, Id::P05MgDl, Id::MedianMgDl, Id::P95MgDl] {
            prop_assert!(close(q.get(id).unwrap(), p.get(id).unwrap() + up), "{id:?}");
        }
        for id in [Id::SdMgDl, Id::IqrMgDl] {
            prop_assert!(close(q.get(id).unwrap(), p.get(id).unwrap()), "{id:?}");
        }
        prop_assert!(close(q.get(Id::GmiPct).unwrap(), p.get(Id::GmiPct).unwrap() + 0.02392 * up));
        prop_assert!(q.get(Id::Below70Pct) <= p.get(Id::Below70Pct));
        prop_assert!(q.get(Id::Above180Pct) >= p.get(Id::Above180Pct));
    }

    /// Levels and spreads scale with the readings; the coefficient of variation doesn't.
    #[test]
    fn panel_scales(glucose in readings()) {
        let doubled: Vec<f64> = glucose.iter().map(|g| g * 1.5).collect();
        let (p, q) = (measures(Unit::MgDl, &glucose), measures(Unit::MgDl, &doubled));
        for id in [Id::MeanMgDl, Id::SdMgDl, Id::MedianMgDl, Id::IqrMgDl, Id::MaxMgDl] {
            prop_assert!(close(q.get(id).unwrap(), 1.5 * p.get(id).unwrap()), "{id:?}");
        }
        prop_assert!(close(q.get(Id::CvPct).unwrap(), p.get(Id::CvPct).unwrap()));
    }

    /// Two halves and the whole: counts and sums add, extremes are the extremes.
    #[test]
    fn parts_make_the_whole(first in readings(), second in readings()) {
        let all: Vec<f64> = first.iter().chain(&second).copied().collect();
        let of = |glucose: &[f64]| {
            let p = panel::compute::order_free(glucose, Unit::MgDl);
            move |id: Id| p.iter().find(|m| m.0 == id).unwrap().1
        };
        let (a, b, whole) = (of(&first), of(&second), of(&all));
        let (na, nb) = (first.len() as f64, second.len() as f64);
        for id in SHARES.into_iter().chain([Id::MeanMgDl, Id::TightRangePct]) {
            prop_assert!(close(whole(id), (na * a(id) + nb * b(id)) / (na + nb)), "{id:?}");
        }
        prop_assert_eq!(whole(Id::MaxMgDl), a(Id::MaxMgDl).max(b(Id::MaxMgDl)));
        prop_assert_eq!(whole(Id::MinMgDl), a(Id::MinMgDl).min(b(Id::MinMgDl)));
        // Variance within the parts and between them.
        let (ma, mb, m) = (a(Id::MeanMgDl), b(Id::MeanMgDl), whole(Id::MeanMgDl));
        let squares = (na - 1.0) * a(Id::SdMgDl) * a(Id::SdMgDl) + (nb - 1.0) * b(Id::SdMgDl) * b(Id::SdMgDl)
            + na * (ma - m) * (ma - m) + nb * (mb - m) * (mb - m);
        prop_assert!(close(whole(Id::SdMgDl), (squares / (na + nb - 1.0)).sqrt()));
    }

    /// The order in which readings come makes no difference to the trace.
    #[test]
    fn shuffled_is_sorted(glucose in readings(), keys in prop::collection::vec(any::<u32>(), 200)) {
        let times = every_five_minutes(glucose.len());
        let mut order: Vec<usize> = (0..glucose.len()).collect();
        order.sort_by_key(|&i| keys[i]);
        let shuffled_times: Vec<i64> = order.iter().map(|&i| times[i]).collect();
        let shuffled: Vec<f64> = order.iter().map(|&i| glucose[i]).collect();
        let sorted = Builder::new(Unit::MgDl).build(&times, &glucose).unwrap();
        let other = Builder::new(Unit::MgDl).build(&shuffled_times, &shuffled).unwrap();
        prop_assert_eq!(sorted.times_ms(), other.times_ms());
        prop_assert_eq!(sorted.glucose_mg_dl(), other.glucose_mg_dl());
        prop_assert_eq!(panel::panel(sorted.view(), &[]), panel::panel(other.view(), &[]));
        prop_assert_eq!(sorted.cleaning().sorted, 0);
    }

    /// Nothing is dropped silently: what was given is kept, a repeat, or listed.
    #[test]
    fn cleaning_adds_up(
        steps in prop::collection::vec((0..20_i64, 40..300_i32, prop::bool::weighted(0.1)), 1..60),
    ) {
        let times: Vec<i64> = steps.iter().map(|s| START + s.0 * 300_000).collect();
        let glucose: Vec<f64> = steps.iter().map(|s| if s.2 { f64::NAN } else { f64::from(s.1) }).collect();
        prop_assume!(glucose.iter().any(|g| g.is_finite()));
        let built = Builder::new(Unit::MgDl).build(&times, &glucose).unwrap();
        let c = built.cleaning();
        prop_assert_eq!(c.given, c.kept + c.duplicates + c.rejected.len());
        prop_assert_eq!(c.rejected.len(), c.conflicts + c.missing);
        prop_assert!(built.times_ms().windows(2).all(|w| w[0] < w[1]));
        // A trace made from a trace is that trace.
        let again = Builder::new(Unit::MgDl).build(built.times_ms(), built.glucose_mg_dl()).unwrap();
        prop_assert_eq!(again.glucose_mg_dl(), built.glucose_mg_dl());
    }

    /// Through every reading, between its neighbours, and nowhere outside.
    #[test]
    fn interpolation_hits_readings((minutes, values) in curve(), share in 0.0..1.0_f64) {
        let between: Vec<f64> = minutes.windows(2).map(|w| w[0] + share * (w[1] - w[0])).collect();
        let outside = [minutes[0] - 1.0, minutes[minutes.len() - 1] + 1.0];
        for method in [Method::Linear, Method::Pchip, Method::Previous, Method::Nearest] {
            let at = |query: &[f64]| on_minutes(&minutes, &values, query, method).unwrap();
            prop_assert_eq!(at(&minutes), values.iter().map(|&v| Some(v)).collect::<Vec<_>>());
            prop_assert_eq!(at(&outside), [None, None]);
            for (value, ends) in at(&between).into_iter().zip(values.windows(2)) {
                let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
                let value = value.unwrap();
                prop_assert!(low - 1e-9 <= value && value <= high + 1e-9, "{method:?}: {value} in {ends:?}");
            }
        }
    }

    /// A gap is crossed only when the caller allows its length.
    #[test]
    fn gaps_stay_open(minutes in 16..600_i64, allowed in 1..600_i64) {
        let times = [START, START + 300_000, START + 300_000 + minutes * 60_000];
        let built = Builder::new(Unit::MgDl).build(&times, &[100.0, 110.0, 120.0]).unwrap();
        let middle = times[1] + minutes * 30_000;
        let got = built.at(&[middle], Method::Linear, allowed as f64).unwrap()[0];
        prop_assert_eq!(got.is_some(), minutes <= allowed);
    }

    /// A wider limit never has fewer pairs, and the interval holds the share.
    #[test]
    fn within_grows(
        pairs in prop::collection::vec((40.0..400.0_f64, 40.0..400.0_f64), 1..60),
        mg_dl in 0.0..60.0_f64, pct in 0.0..60.0_f64, more in 0.0..20.0_f64,
    ) {
        let (reference, measured): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
        let share = |mg_dl, pct| within(&reference, &measured, mg_dl, pct, 100.0, None, 0.95).unwrap();
        let (narrow, wide) = (share(mg_dl, pct), share(mg_dl + more, pct + more));
        prop_assert!(narrow.count <= wide.count);
        prop_assert!(narrow.low <= wide.low && narrow.high <= wide.high);
        prop_assert!(narrow.low <= narrow.fraction && narrow.fraction <= narrow.high);
    }

    #[test]
    fn quantiles_stay_inside(values in prop::collection::vec(-1e3..1e3_f64, 1..80), p in 0.0..=1.0_f64, q in 0.0..=1.0_f64) {
        let sorted = quantile::sorted(&values);
        let at = |p| quantile::type7(&sorted, p).unwrap();
        let (low, high) = (sorted[0], sorted[sorted.len() - 1]);
        prop_assert!(low <= at(p) && at(p) <= high);
        prop_assert!(at(p.min(q)) <= at(p.max(q)) + 1e-9);
        prop_assert_eq!((at(0.0), at(1.0)), (low, high));
        // From the other end it is the same place.
        let mirrored = quantile::sorted(&values.iter().map(|v| -v).collect::<Vec<_>>());
        prop_assert!(close(-quantile::type7(&mirrored, 1.0 - p).unwrap(), at(p)));
    }

    /// However the readings are cut and in whatever order the parts are joined, the histogram and
    /// its measures have the same bits, which are those of the panel.
    #[test]
    fn a_histogram_does_not_know_its_parts(
        glucose in readings(),
        keys in prop::collection::vec(any::<u32>(), 200),
        parts in 1..8_usize,
    ) {
        let counted = |readings: &[f64]| {
            let mut h = Histogram::new(Unit::MgDl);
            h.extend(readings).unwrap();
            h
        };
        let whole = counted(&glucose);
        let mut order: Vec<usize> = (0..glucose.len()).collect();
        order.sort_by_key(|&i| keys[i]);
        let mut joined = Histogram::new(Unit::MgDl);
        for part in 0..parts {
            let readings: Vec<f64> = order.iter().skip(part).step_by(parts).map(|&i| glucose[i]).collect();
            joined.merge(&counted(&readings)).unwrap();
        }
        prop_assert_eq!(&joined, &whole);
        let p = measures(Unit::MgDl, &glucose);
        for (id, value) in joined.measures(&Options::default()).unwrap() {
            prop_assert_eq!(p.get(id).map(f64::to_bits), value.ok().map(f64::to_bits), "{:?}", id);
        }
    }

    /// On the grid or a hair beside it, counted or sorted: measures move by no more than the hair
    /// would have it, except where it carries a reading over a limit.
    #[test]
    fn counted_and_sorted_agree(glucose in readings(), unit in prop::sample::select(vec![Unit::MgDl, Unit::MmolL])) {
        let shown: Vec<f64> = glucose.iter().map(|&g| unit.to_mg_dl(on_step(unit, g))).collect();
        // Far above every level, so it moves neither what lies below nor the grid of the others.
        let with = |top: f64| {
            let mut all = shown.clone();
            all.push(top);
            order_free(&all, unit)
        };
        let top = unit.to_mg_dl(on_step(unit, 450.0));
        for (a, b) in with(top).into_iter().zip(with(top + 1e-7)) {
            prop_assert_eq!(a.0, b.0);
            prop_assert!(close(a.1, b.1), "{:?}: {} and {}", a.0, a.1, b.1);
        }
    }

    /// Indices are sums and means of their parts.
    #[test]
    fn indices_add_up(first in readings(), second in readings()) {
        let all: Vec<f64> = first.iter().chain(&second).copied().collect();
        let of = |glucose: &[f64]| {
            let p = measures(Unit::MgDl, glucose);
            move |id: Id| p.get(id).unwrap()
        };
        let (a, b, whole) = (of(&first), of(&second), of(&all));
        let (na, nb) = (first.len() as f64, second.len() as f64);
        for id in [Id::MValue, Id::HyperIndex, Id::HypoIndex, Id::Lbgi, Id::Hbgi, Id::Grade,
            Id::GriHypoComponent, Id::GriHyperComponent] {
            prop_assert!(close(whole(id), (na * a(id) + nb * b(id)) / (na + nb)), "{id:?}");
        }
        prop_assert!(close(whole(Id::Igc), whole(Id::HyperIndex) + whole(Id::HypoIndex)));
        prop_assert!(close(whole(Id::Bgri), whole(Id::Lbgi) + whole(Id::Hbgi)));
        let parts = [Id::GradeHypoPct, Id::GradeEuPct, Id::GradeHyperPct].map(&whole);
        prop_assert!(close(parts.iter().sum(), 100.0));
        prop_assert!((0.0..=100.0).contains(&whole(Id::Gri)) && (0.0..=100.0).contains(&whole(Id::Cogi)));
        prop_assert!(whole(Id::Grade) <= 50.0);
    }

    /// J grows with the square of the readings; risk of lows falls and of highs grows as all rise.
    #[test]
    fn indices_move_with_the_readings(glucose in readings(), up in 1..200_i32) {
        let moved = |f: &dyn Fn(f64) -> f64| measures(Unit::MgDl, &glucose.iter().map(|&g| f(g)).collect::<Vec<_>>());
        let p = measures(Unit::MgDl, &glucose);
        let (raised, stretched) = (moved(&|g| g + f64::from(up)), moved(&|g| g * 1.5));
        prop_assert!(close(stretched.get(Id::JIndex).unwrap(), 2.25 * p.get(Id::JIndex).unwrap()));
        for (id, falls) in [(Id::Lbgi, true), (Id::HypoIndex, true), (Id::GriHypoComponent, true),
            (Id::Hbgi, false), (Id::HyperIndex, false), (Id::GriHyperComponent, false)] {
            let (before, after) = (p.get(id).unwrap(), raised.get(id).unwrap());
            prop_assert!(if falls { after <= before } else { after >= before }, "{id:?}");
        }
    }

    /// The same readings as mg/dL and as the tenths of mmol/L nearest to them: each moves by half
    /// a tenth at the most, and so do the levels.
    #[test]
    fn levels_survive_the_other_unit(glucose in readings()) {
        let mmol: Vec<f64> = glucose.iter().map(|&g| on_step(Unit::MmolL, g)).collect();
        let (p, q) = (measures(Unit::MgDl, &glucose), measures(Unit::MmolL, &mmol));
        for id in [Id::MeanMgDl, Id::MinMgDl, Id::P25MgDl, Id::MedianMgDl, Id::P95MgDl, Id::MaxMgDl] {
            let off = (p.get(id).unwrap() - q.get(id).unwrap()).abs();
            prop_assert!(off <= 0.05 * 18.0156 + 1e-9, "{id:?}: {off}");
        }
        for m in MEASURES.iter().filter(|m| m.needs == Needs::Histogram) {
            prop_assert!(q.get(m.id).is_some_and(f64::is_finite), "{}", m.name);
        }
    }
}

/// A level in mg/dL as a device of this unit shows it, in this unit.
fn on_step(unit: Unit, mg_dl: f64) -> f64 {
    unit.snap((unit.from_mg_dl(mg_dl) / unit.step()).round() * unit.step())
}

/// Three nominal intervals are not yet a gap; a millisecond more is one.
#[test]
fn a_gap_is_longer_than_three_intervals() {
    for (late, gaps) in [(0, 0), (1, 1)] {
        let mut times = every_five_minutes(10);
        times.push(times[9] + 900_000 + late);
        let built = Builder::new(Unit::MgDl).build(&times, &[100.0; 11]).unwrap();
        assert_eq!(built.view().gaps().len(), gaps, "{late} ms late");
    }
}
