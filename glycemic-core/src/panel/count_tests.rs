use super::*;
use crate::panel::options::RiskConstants;

const UNITS: [Unit; 2] = [Unit::MgDl, Unit::MmolL];

/// Codes from 40 mg/dL (2.2 mmol/L) up, `spread` of them, in no order.
fn some_codes(unit: Unit, n: usize, spread: usize) -> Vec<u16> {
    let low = if unit == Unit::MgDl { 40 } else { 22 };
    (0..n).map(|i| low + (i * i * 7 + i * 31) as u16 % spread as u16).collect()
}

fn mg_dl(codes: &[u16], unit: Unit) -> Vec<f64> {
    codes.iter().map(|&c| grid::value_of(c, unit)).collect()
}

fn on_grid(values: &[f64], unit: Unit, options: &Options) -> Summary {
    let codes = grid::codes(values, unit).unwrap();
    let counts = count(&codes);
    Counts { unit, first: usize::from(codes.first), counts: &counts }.summary(options).unwrap()
}

#[test]
fn counts_are_counts() {
    for n in [1, 2, 3, 4, 5, 7, 288] {
        let codes = some_codes(Unit::MgDl, n, 300);
        let found = grid::codes(&mg_dl(&codes, Unit::MgDl), Unit::MgDl).unwrap();
        let counts = count(&found);
        assert_eq!(counts.iter().sum::<u64>(), n as u64);
        for (code, &got) in (found.first..).zip(&counts) {
            assert_eq!(got, codes.iter().filter(|&&c| c == code).count() as u64);
        }
    }
}

/// The walk over the counts is the definition on sorted readings, to the last bit.
#[test]
fn percentiles_are_those_of_the_sorted_readings() {
    for unit in UNITS {
        for n in [1, 2, 3, 5, 20, 21, 100, 289] {
            for spread in [1, 2, 9, 180] {
                let values = mg_dl(&some_codes(unit, n, spread), unit);
                let sorted = quantile::sorted(&values);
                let want = PLACES.map(|p| quantile::type7(&sorted, p).unwrap());
                assert_eq!(on_grid(&values, unit, &Options::default()).percentiles, want);
            }
        }
    }
}

/// The two paths agree to 1e-12 on the same readings, under every option.
#[test]
fn the_exact_path_agrees() {
    let choices = [
        Options::default(),
        Options { m_reference_mg_dl: 90.0, grade: GradeRule::Median, ..Options::default() },
        Options { risk_constants: RiskConstants::MmolL, ..Options::default() },
    ];
    for unit in UNITS {
        for (n, spread) in [(1, 1), (2, 2), (50, 1), (289, 150), (4032, 200)] {
            let values = mg_dl(&some_codes(unit, n, spread), unit);
            for options in &choices {
                let fast = on_grid(&values, unit, options);
                let exact = off_grid(&values, unit, options).unwrap();
                assert_eq!((fast.n, fast.bands), (exact.n, exact.bands));
                assert_eq!(fast.percentiles, exact.percentiles);
                let pairs = [
                    (Some(fast.mean_mg_dl), Some(exact.mean_mg_dl)),
                    (fast.sd_mg_dl, exact.sd_mg_dl),
                    (fast.m_sum, exact.m_sum),
                    (fast.grade_median, exact.grade_median),
                ];
                let flat = |s: &Summary| s.sums.concat().into_iter().map(Some).collect::<Vec<_>>();
                for (a, b) in pairs.into_iter().chain(flat(&fast).into_iter().zip(flat(&exact))) {
                    let (a, b) = (a.unwrap_or(-1.0), b.unwrap_or(-1.0));
                    assert!((a - b).abs() <= 1e-12 * b.abs(), "{a} and {b} of {n} readings");
                }
            }
        }
    }
}

/// By hand: GRADE of 54, 70 and 140 mg/dL is 11.114, 2.056 and 5.107; it does not rise with the
/// level, so the middle one is not that of the middle level.
#[test]
fn the_middle_grade_is_not_that_of_the_middle_level() {
    let options = Options { grade: GradeRule::Median, ..Options::default() };
    let of = |values: &[f64]| on_grid(values, Unit::MgDl, &options).grade_median.unwrap();
    assert_eq!(of(&[54.0, 70.0, 140.0]), risk::grade(140.0));
    assert_eq!(of(&[54.0, 140.0]), (risk::grade(54.0) + risk::grade(140.0)) / 2.0);
    assert_eq!(of(&[54.0, 70.0, 70.0, 140.0]), (risk::grade(70.0) + risk::grade(140.0)) / 2.0);
    assert_eq!(on_grid(&[54.0], Unit::MgDl, &Options::default()).grade_median, None);
}

/// Whole numbers: an SD of readings far from zero loses nothing.
#[test]
fn moments_are_exact() {
    let mut values = vec![1999.0; 100_000];
    values.extend(vec![2000.0; 100_000]);
    let s = on_grid(&values, Unit::MgDl, &Options::default());
    assert_eq!(s.mean_mg_dl, 1999.5);
    // Each lies half a step from the mean: n / 4 over n - 1.
    let want = (200_000.0_f64 / 4.0 / 199_999.0).sqrt();
    assert!((s.sd_mg_dl.unwrap() - want).abs() < 1e-16);
}

#[test]
fn nothing_has_no_summary() {
    let empty = Counts { unit: Unit::MgDl, first: 0, counts: &[0, 0, 0] };
    assert_eq!(empty.summary(&Options::default()), None);
    assert_eq!(off_grid(&[], Unit::MgDl, &Options::default()), None);
}
