use super::*;
use crate::stats::random::Random;

/// Remission of leukaemia in weeks under 6-mercaptopurine: Freireich EJ et al., Blood 1963; 21:
/// 699-716, in the form of Gehan EA, Biometrika 1965; 52: 203-223. A time with a minus sign is
/// censored. Data and the results below from memory; the results were worked out anew by hand.
const REMISSION: [i32; 21] =
    [6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35];

fn split(signed: &[i32]) -> (Vec<f64>, Vec<bool>) {
    (signed.iter().map(|t| f64::from(t.abs())).collect(), signed.iter().map(|t| *t > 0).collect())
}

fn remission() -> Survival {
    let (times, failed) = split(&REMISSION);
    kaplan_meier(&times, &failed, 0.95).unwrap()
}

/// The curve, Greenwood's errors and log-log intervals that textbooks print, to four decimals.
#[test]
fn remission_of_leukaemia() {
    let curve = remission();
    #[rustfmt::skip]
    let printed = [
        (6.0, 21, 3, 0.8571, 0.0764, 0.6197, 0.9516),
        (7.0, 17, 1, 0.8067, 0.0869, 0.5631, 0.9228),
        (10.0, 15, 1, 0.7529, 0.0963, 0.5032, 0.8894),
        (13.0, 12, 1, 0.6902, 0.1068, 0.4316, 0.8491),
        (16.0, 11, 1, 0.6275, 0.1141, 0.3675, 0.8049),
        (22.0, 7, 1, 0.5378, 0.1282, 0.2678, 0.7468),
        (23.0, 6, 1, 0.4482, 0.1346, 0.1881, 0.6801),
    ];
    assert_eq!((curve.n, curve.failures, curve.steps.len()), (21, 9, 7));
    for (step, (time, at_risk, failed, survival, se, low, high)) in curve.steps.iter().zip(printed)
    {
        assert_eq!((step.time, step.at_risk, step.failed), (time, at_risk, failed));
        let got = [step.survival, step.se.unwrap(), step.low.unwrap(), step.high.unwrap()];
        for (got, printed) in got.into_iter().zip([survival, se, low, high]) {
            // Half a unit in the last place that is printed.
            assert!((got - printed).abs() <= 0.5e-4, "{time}: {got} and {printed}");
        }
    }
    assert_eq!(curve.steps.iter().map(|s| s.censored).sum::<usize>(), 12);
}

/// The median of the same data is 23 weeks, with a lower end of 13 and no upper end (printed by
/// textbooks and packages alike; from memory).
#[test]
fn median_remission() {
    let median = remission().median();
    assert_eq!((median.value, median.low, median.high), (Some(23.0), Some(13.0), None));
    assert_eq!(median.reason.unwrap().code, "open_interval");
}

/// scipy 1.17.1, `stats.ecdf(CensoredData(...)).sf` with `confidence_interval(0.9, "log-log")`,
/// on invented times with failures and censorings at the same time.
#[test]
fn ties_against_a_reference_library() {
    let (times, failed) = split(&[2, 3, 3, -3, 5, -5, 7, -8, 8, -10, 12, 14, -14, -14, -14]);
    let curve = kaplan_meier(&times, &failed, 0.90).unwrap();
    #[rustfmt::skip]
    let expected = [
        (2.0, 0.9333333333333333, 0.6994107711477844, 0.98677414469742),
        (3.0, 0.7999999999999999, 0.5610615683720649, 0.9174489229749904),
        (5.0, 0.7272727272727272, 0.48212274318934156, 0.8702227570229563),
        (7.0, 0.6464646464646463, 0.3968388012352627, 0.8139104445242257),
        (8.0, 0.5656565656565655, 0.32028655431763625, 0.751913808992865),
        (10.0, 0.5656565656565655, 0.32028655431763625, 0.751913808992865),
        (12.0, 0.45252525252525244, 0.20901103922268557, 0.669223976258827),
        (14.0, 0.33939393939393936, 0.12231912014765507, 0.5736461213558556),
    ];
    for (time, survival, low, high) in expected {
        let got = curve.at(time).unwrap();
        assert!((got.value.unwrap() - survival).abs() < 1e-14, "{time}: {got:?}");
        assert!((got.low.unwrap() - low).abs() < 1e-10, "{time}: {got:?}");
        assert!((got.high.unwrap() - high).abs() < 1e-10, "{time}: {got:?}");
    }
    // The last were censored at 14: beyond it nothing can be said.
    assert_eq!(curve.at(14.1).unwrap().reason.unwrap().code, "beyond_last_time");
}

/// Without censoring the curve is the share still there, and Greenwood's variance is binomial.
#[test]
fn without_censoring_it_is_a_share() {
    let times: Vec<f64> = (1..=10).map(f64::from).collect();
    let curve = kaplan_meier(&times, &[true; 10], 0.95).unwrap();
    for step in &curve.steps[..9] {
        let p = 1.0 - step.time / 10.0;
        assert!((step.survival - p).abs() < 1e-14);
        assert!((step.se.unwrap() - (p * (1.0 - p) / 10.0).sqrt()).abs() < 1e-14);
    }
    let end = curve.at(20.0).unwrap();
    assert_eq!((end.value, end.high), (Some(0.0), None));
    assert_eq!(end.reason.unwrap().code, "all_failed");
}

/// By hand: of four that fail at 1, 2, 3 and 4 just half are left after 2, which is the first time
/// at which survival is one half or less.
#[test]
fn the_median_is_where_just_half_are_left() {
    let curve = kaplan_meier(&[1.0, 2.0, 3.0, 4.0], &[true; 4], 0.95).unwrap();
    assert_eq!(curve.median().value, Some(2.0));
}

#[test]
fn all_censored_has_a_bound_and_no_median() {
    let curve = kaplan_meier(&[10.0, 14.0, 14.0], &[false; 3], 0.95).unwrap();
    assert_eq!((curve.failures, curve.steps.len()), (0, 0));
    let at = curve.at(14.0).unwrap();
    // Two at risk: the low end solves x^2 = 0.025.
    assert_eq!((at.value, at.high, at.n), (Some(1.0), Some(1.0), 2));
    assert!((at.low.unwrap() - 0.025_f64.sqrt()).abs() < 1e-12);
    assert_eq!(curve.at(15.0).unwrap().value, None);
    let median = curve.median();
    assert_eq!((median.value, median.reason.unwrap().code), (None, "half_not_failed".to_string()));
    assert_eq!(cumulative_incidence(&[1.0], &[0], 0.95).unwrap(), []);
}

/// One cause: incidence is one less survival, and its variance Greenwood's.
#[test]
fn one_cause_is_the_complement() {
    let (times, failed) = split(&REMISSION);
    let cause: Vec<u32> = failed.iter().map(|f| u32::from(*f)).collect();
    let rows = cumulative_incidence(&times, &cause, 0.95).unwrap();
    for (row, step) in rows.iter().zip(&remission().steps) {
        assert!((row.incidence + step.survival - 1.0).abs() < 1e-12);
        assert!((row.se - step.se.unwrap()).abs() < 1e-12, "{row:?} {step:?}");
    }
}

/// Without censoring an incidence is a plain share with a binomial variance.
#[test]
fn causes_without_censoring_are_shares() {
    let mut random = Random::keyed(7, 0, 0);
    let times: Vec<f64> = (0..40).map(|_| random.below(12) as f64).collect();
    let cause: Vec<u32> = (0..40).map(|_| 1 + random.below(3) as u32).collect();
    for row in cumulative_incidence(&times, &cause, 0.95).unwrap() {
        let count =
            (0..40).filter(|&i| cause[i] == row.cause && times[i] <= row.time).count() as f64;
        let p = count / 40.0;
        assert!((row.incidence - p).abs() < 1e-12);
        assert!((row.se - (p * (1.0 - p) / 40.0).sqrt()).abs() < 1e-12, "{row:?} {p}");
    }
}

/// Sensors that last 10 days on average (exponential), half of 60 taken off by day 14: the
/// interval of survival at day 7 covers exp(-0.7). 1,000 draws at 90 %: the standard error of a
/// share of 0.9 is 0.0095; four of them either way.
#[test]
fn intervals_cover() {
    let truth = libm::exp(-0.7);
    let hits = (0..1000)
        .filter(|&k| {
            let mut random = Random::keyed(11, 0, k);
            let (mut times, mut failed) = (Vec::new(), Vec::new());
            for _ in 0..60 {
                let life = -10.0 * libm::log(1.0 - random.uniform());
                let watched = 2.0 + 12.0 * random.uniform();
                times.push(life.min(watched));
                failed.push(life <= watched);
            }
            kaplan_meier(&times, &failed, 0.90).unwrap().at(7.0).unwrap().covers(truth)
        })
        .count();
    assert!((862..=938).contains(&hits), "{hits} of 1000");
}

#[test]
fn bad_input_is_an_error() {
    let code = |t: &[f64], f: &[bool]| kaplan_meier(t, f, 0.95).unwrap_err().code();
    assert_eq!(code(&[], &[]), "too_few_values");
    assert_eq!(code(&[1.0], &[]), "length_mismatch");
    assert_eq!(code(&[f64::NAN], &[true]), "not_finite");
    assert_eq!(code(&[-1.0], &[true]), "out_of_range");
    assert!(kaplan_meier(&[1.0], &[true], 1.0).is_err());
    assert!(remission().at(f64::NAN).is_err());
    let rows = remission().to_table().unwrap();
    assert_eq!((rows.rows(), rows.columns().len()), (7, 8));
}
