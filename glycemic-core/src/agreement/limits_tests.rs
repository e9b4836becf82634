use super::*;

/// Bland and Altman 1999, cardiac output (see tests/published): reference, measured, subject.
fn cardiac() -> (Vec<f64>, Vec<f64>, Vec<i64>) {
    let rows: [(&[f64], &[f64]); 12] = [
        (&[6.57, 5.62, 6.9, 6.57, 6.35], &[7.83, 7.42, 7.89, 7.12, 7.88]),
        (&[4.06, 4.29, 4.26, 4.09], &[6.16, 7.26, 6.71, 6.54]),
        (&[4.71, 5.5, 5.08, 5.02, 6.01, 5.67], &[4.75, 5.24, 4.86, 4.78, 6.05, 5.42]),
        (&[4.14, 4.2, 4.61, 4.68, 5.04], &[4.21, 3.61, 3.72, 3.87, 3.92]),
        (&[3.03, 2.86, 2.77, 2.46, 2.32, 2.43], &[3.13, 2.98, 2.85, 3.17, 3.09, 3.12]),
        (&[5.9, 5.81, 5.7, 5.76], &[5.92, 6.42, 5.92, 6.27]),
        (&[5.09, 4.63, 4.61, 5.09], &[7.13, 6.62, 6.58, 6.93]),
        (&[4.72, 4.61, 4.36, 4.2, 4.36, 4.2], &[4.54, 4.81, 5.11, 5.29, 5.39, 5.57]),
        (&[3.17, 3.12, 2.96], &[4.48, 4.92, 3.97]),
        (&[4.35, 4.62, 3.16, 3.53, 3.53], &[4.22, 4.65, 4.74, 4.44, 4.5]),
        (&[7.2, 6.09, 7.0, 7.1, 7.4, 6.8], &[6.78, 6.07, 6.52, 6.42, 6.41, 5.76]),
        (&[4.5, 4.2, 3.8, 3.8, 4.2, 4.5], &[5.06, 4.72, 4.9, 4.8, 4.9, 5.1]),
    ];
    let (mut r, mut m, mut s) = (Vec::new(), Vec::new(), Vec::new());
    for (k, (ic, rv)) in rows.iter().enumerate() {
        r.extend_from_slice(ic);
        m.extend_from_slice(rv);
        s.extend(std::iter::repeat_n(k as i64, ic.len()));
    }
    (r, m, s)
}

fn close(got: Option<f64>, truth: f64, within: f64) {
    assert!((got.unwrap() - truth).abs() <= within, "{got:?} is not {truth}");
}

/// Bland and Altman 1999: mean 0.7092, SD 1.0517 for a constant true value (printed), and the
/// same in full precision.
#[test]
fn cardiac_with_a_constant_truth() {
    let (r, m, s) = cardiac();
    let o = Options { subject: Some(&s), truth: Truth::Constant, ..Options::default() };
    let l = limits(&r, &m, &o).unwrap();
    close(l.bias.value, 0.7092, 5e-5);
    close(Some(l.sd), 1.0517, 2e-4);
    close(l.bias.value, 0.709_236_111_11, 1e-10);
    close(Some(l.sd), 1.051_850_603_2, 1e-10);
    close(l.lower.value, -1.352_391_071_2, 1e-9);
    close(l.upper.value, 2.770_863_293_4, 1e-9);
    close(Some(l.sd_within.unwrap()), (0.107_227_777_78_f64 + 0.137_874_062_5).sqrt(), 1e-10);
    assert!(l.lower.low < l.lower.value && l.upper.value < l.upper.high);
}

#[test]
fn both_calls_agree() {
    let (r, m, s) = cardiac();
    let l = limits(&r, &m, &Options { subject: Some(&s), ..Options::default() }).unwrap();
    let b = super::super::bland_altman(&r, &m, Some(&s), 0.95).unwrap();
    assert_eq!((l.bias, l.sd, l.lower, l.upper), (b.bias, b.sd, b.lower, b.upper));
}

/// With one pair a subject nothing is lost in averaging, so recovery has to come near the exact
/// interval of independent pairs; here through two equal replicates, which add no within part.
#[test]
fn recovery_is_near_exact_for_subjects_without_within_spread() {
    let d: Vec<f64> = (0..40).map(|i| f64::from((i * 37) % 41) - 20.0).collect();
    let r: Vec<f64> = vec![100.0; 40];
    let m: Vec<f64> = d.iter().map(|d| 100.0 + d).collect();
    let exact = limits(&r, &m, &Options::default()).unwrap();
    let twice = |v: &[f64]| [v, v].concat();
    let s: Vec<i64> = (0..80).map(|i| i % 40).collect();
    let o = Options { subject: Some(&s), ..Options::default() };
    let recovered = limits(&twice(&r), &twice(&m), &o).unwrap();
    close(recovered.upper.value, exact.upper.value.unwrap(), 1e-9);
    let width = exact.upper.high.unwrap() - exact.upper.low.unwrap();
    close(recovered.upper.low, exact.upper.low.unwrap(), 0.05 * width);
    close(recovered.upper.high, exact.upper.high.unwrap(), 0.05 * width);
}

/// Known truth: subject effects with SD 6 and errors with SD 8 about a bias of 3; the limit is
/// 3 + 1.96 × 10. A 90 % interval must cover within four standard errors of 90 % (400 runs: 6 %).
#[test]
fn recovery_and_exact_cover() {
    let (mut nested, mut alone) = (0, 0);
    for run in 0..400 {
        let mut random = Random::keyed(2013, 0, run);
        let (mut r, mut m, mut s) = (Vec::new(), Vec::new(), Vec::new());
        for subject in 0..12 {
            let own = 6.0 * random.normal();
            for _ in 0..(3 + subject % 4) {
                r.push(100.0);
                m.push(103.0 + own + 8.0 * random.normal());
                s.push(subject);
            }
        }
        let o = Options { subject: Some(&s), level: 0.9, ..Options::default() };
        nested += usize::from(limits(&r, &m, &o).unwrap().upper.covers(3.0 + 19.6));
        let m: Vec<f64> = (0..10).map(|_| 103.0 + 10.0 * random.normal()).collect();
        let o = Options { level: 0.9, ..Options::default() };
        alone += usize::from(limits(&r[..10], &m, &o).unwrap().upper.covers(3.0 + 19.6));
    }
    let share = |k: usize| k as f64 / 400.0;
    assert!((share(nested) - 0.9).abs() < 0.06, "{}", share(nested));
    assert!((share(alone) - 0.9).abs() < 0.06, "{}", share(alone));
}

#[test]
fn ratios_and_percents() {
    // Ratios 1.1 and its inverse, twice each: the geometric mean is 1.
    let (r, m) = ([100.0, 110.0, 100.0, 110.0], [110.0, 100.0, 110.0, 100.0]);
    let l = limits(&r, &m, &Options { scale: Scale::Ratio, ..Options::default() }).unwrap();
    close(l.bias.value, 1.0, 1e-12);
    close(Some(l.upper.value.unwrap() * l.lower.value.unwrap()), 1.0, 1e-12);
    let sd = libm::log(1.1) * (4.0_f64 / 3.0).sqrt();
    close(l.upper.value, libm::exp(1.96 * sd), 1e-12);
    let p = limits(&r, &m, &Options { scale: Scale::PercentOfMean, ..Options::default() }).unwrap();
    close(p.upper.value, 1.96 * (100.0 * 10.0 / 105.0) * (4.0_f64 / 3.0).sqrt(), 1e-9);
    let e =
        limits(&[0.0, 1.0], &[1.0, 1.0], &Options { scale: Scale::Ratio, ..Options::default() });
    assert_eq!(e.unwrap_err().index(), Some(0));
}

#[test]
fn bootstrap_of_subjects() {
    let (r, m, s) = cardiac();
    let interval = Interval::Bootstrap { resamples: 500, seed: 7 };
    let o = Options { subject: Some(&s), interval, ..Options::default() };
    let (one, two) = (limits(&r, &m, &o).unwrap(), limits(&r, &m, &o).unwrap());
    assert_eq!(one, two);
    let plain = limits(&r, &m, &Options { subject: Some(&s), ..Options::default() }).unwrap();
    assert_eq!((one.upper.value, one.sd), (plain.upper.value, plain.sd));
    assert!(one.upper.low < one.upper.value && one.upper.value < one.upper.high);
    assert!(one.upper.method.contains("subjects"));
    // Pairs of four subjects are too few to resample.
    let few = Options { subject: Some(&s[..19]), ..o };
    let l = limits(&r[..19], &m[..19], &few).unwrap();
    assert_eq!((l.upper.low, l.upper.reason.unwrap().had), (None, Some(4.0)));
    let none = Options { interval: Interval::Bootstrap { resamples: 10, seed: 1 }, ..o };
    assert_eq!(limits(&r, &m, &none).unwrap_err().argument(), Some("resamples"));
}

/// Subjects whose means are nearer than chance: the variance between counts as 0, and the limits
/// stand at the SD that is shown.
#[test]
fn a_negative_variance_between_counts_as_none() {
    let r = [100.0; 9];
    let m = [90.0, 100.0, 110.0, 91.0, 100.0, 109.0, 89.0, 100.0, 111.0];
    let s = [0, 0, 0, 1, 1, 1, 2, 2, 2];
    let l = limits(&r, &m, &Options { subject: Some(&s), ..Options::default() }).unwrap();
    assert_eq!(l.sd_within, Some(l.sd));
    close(l.sd.into(), (302.0_f64 / 3.0).sqrt(), 1e-9);
    close(l.upper.value, 1.96 * l.sd, 1e-9);
    assert!(l.upper.low < l.upper.value && l.upper.value < l.upper.high);
}
