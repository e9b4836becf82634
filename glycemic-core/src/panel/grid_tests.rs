use super::*;
use crate::series::Builder;

const UNITS: [Unit; 2] = [Unit::MgDl, Unit::MmolL];

fn every_code(unit: Unit) -> Vec<u16> {
    (1..=max_code(unit)).collect()
}

/// What a trace holds for each level a device can show is on the grid, with the same bits.
#[test]
fn every_level_of_a_trace_has_its_code() {
    for unit in UNITS {
        let wanted = every_code(unit);
        let per_unit = if unit == Unit::MgDl { 1.0 } else { 10.0 };
        let shown: Vec<f64> = wanted.iter().map(|&c| f64::from(c) / per_unit).collect();
        let times: Vec<i64> = (0..wanted.len() as i64).map(|i| 1_741_000_000_000 + i).collect();
        // The builder takes a median over 600 mg/dL for a mistake.
        let below: Vec<f64> = shown.iter().map(|g| g.min(60.0 / per_unit)).collect();
        for values in [&shown[..shown.len() / 2], &below] {
            let trace = Builder::new(unit).build(&times[..values.len()], values).unwrap();
            let codes = codes(trace.glucose_mg_dl(), unit).unwrap();
            for (code, mg_dl) in codes.codes.iter().zip(trace.glucose_mg_dl()) {
                assert_eq!(value_of(*code, unit).to_bits(), mg_dl.to_bits());
            }
        }
        let values: Vec<f64> = shown.iter().map(|&g| unit.to_mg_dl(unit.snap(g))).collect();
        let all = codes(&values, unit).unwrap();
        assert_eq!((all.codes, all.first, all.last), (wanted, 1, max_code(unit)));
    }
}

/// Tenths of mmol/L converted in another order of products are the same level.
#[test]
fn a_few_roundings_do_not_matter() {
    for code in every_code(Unit::MmolL) {
        let c = f64::from(code);
        let ways = [c * 18.0156 / 10.0, c * 0.1 * 18.0156, c * 1.80156, c / 10.0 * 18.0156];
        for mg_dl in ways {
            assert_eq!(code_of(mg_dl, Unit::MmolL), Some(code));
            assert_eq!(codes(&[mg_dl], Unit::MmolL).unwrap().codes, [code]);
        }
    }
}

#[test]
fn whatever_is_off_the_grid_is_found() {
    let bad = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        0.0,
        -0.0,
        -5.0,
        0.5,
        100.5,
        100.000_000_000_1,
        2001.0,
        2047.0,
        2048.0,
        65_636.0,
        4_294_967_396.0,
        9_007_199_254_741_092.0,
        -13_510_798_882_111_388.0,
        1e300,
        f64::MIN_POSITIVE,
    ];
    for value in bad {
        assert_eq!(code_of(value, Unit::MgDl), None, "{value}");
        assert_eq!(codes(&[value], Unit::MgDl), None, "{value}");
    }
    let step = step_mg_dl(Unit::MmolL);
    // 18 and 18.018 are other factors: their products are not tenths by ours.
    let products = [100.0, 99.0, 10.0 * 18.0, 10.0 * 18.018, 5.55 * 18.0156];
    for value in bad.into_iter().map(|b| b * step).chain(products) {
        assert_eq!(code_of(value, Unit::MmolL), None, "{value}");
        assert_eq!(codes(&[value], Unit::MmolL), None, "{value}");
    }
    assert_eq!(codes(&[], Unit::MgDl), None);
}

/// One bad reading in three blocks, wherever it stands.
#[test]
fn one_bad_reading_is_enough() {
    for unit in UNITS {
        let mut values = vec![value_of(100, unit); 2 * BLOCK + 7];
        assert!(codes(&values, unit).is_some());
        for place in [0, 1, 5, BLOCK - 1, BLOCK, 2 * BLOCK - 1, 2 * BLOCK, 2 * BLOCK + 6] {
            let good = values[place];
            for bad in [good + 0.01, f64::NAN, -good, 0.0] {
                values[place] = bad;
                assert_eq!(codes(&values, unit), None, "{place}: {bad}");
            }
            values[place] = good;
        }
    }
}

/// The slice and the single reading agree near the edge of what is close enough.
#[test]
fn the_slice_and_the_single_reading_agree() {
    for unit in UNITS {
        for code in [1, 39, 70, 100, 139, 600, max_code(unit)] {
            let mut mg_dl = value_of(code, unit);
            for _ in 0..40 {
                let one = code_of(mg_dl, unit);
                assert_eq!(codes(&[mg_dl], unit).map(|c| c.codes[0]), one, "{mg_dl}");
                mg_dl = f64::from_bits(mg_dl.to_bits() + 1);
            }
            assert_eq!(code_of(mg_dl, unit), None);
        }
    }
}
