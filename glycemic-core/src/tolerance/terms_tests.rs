use super::*;
use crate::meals::{Response, Targets, Window};
use crate::stats::random::Random;

const DOSES: [f64; 6] = [10.0, 20.0, 30.0, 45.0, 60.0, 80.0];

/// A wholly seen meal that peaks an hour after its start.
fn meal(grams: f64, rise: f64, baseline: f64) -> (Meal, Response) {
    let meal = Meal { carbs_g: Some(grams), ..Meal::default() };
    let seen = Response {
        rise_mg_dl: Some(rise),
        baseline_mg_dl: Some(baseline),
        time_to_peak_min: Some(60.0),
        seen_min: 180.0,
        ..Response::default()
    };
    (meal, seen)
}

fn responses(made: Vec<(Meal, Response)>, noise: Result<Noise, Reason>) -> Responses {
    let (meals, rows): (Vec<Meal>, Vec<Response>) = made.into_iter().unzip();
    Responses {
        walks: vec![None; meals.len()],
        logged: vec![1; meals.len()],
        meals,
        rows,
        noise,
        targets: Targets::default(),
        window: Window { before_min: 30.0, after_min: 180.0 },
        suspected: Vec::new(),
    }
}

fn unknown() -> Result<Noise, Reason> {
    Err(Reason::plain("made", "made by hand"))
}

/// Noise that is not linked in time.
fn white(sd: f64) -> Noise {
    Noise {
        windows: 50,
        sd_mg_dl: sd,
        autocorrelation: 0.0,
        median_rise_mg_dl: 0.0,
        floor_rise_mg_dl: 0.0,
        white_sd_mg_dl: sd,
        slow_min: 1.0,
        fast_min: 0.0,
        windows_suspected: 0,
    }
}

/// A walk takes 12 off, exactly; meals with a walk count for the walk alone.
#[test]
fn a_walk_is_found() {
    let made = (0..24).map(|i| {
        let walked = i % 4 == 1;
        let (m, mut r) = meal(DOSES[i / 4], 3.0 + DOSES[i / 4] - 12.0 * f64::from(walked), 100.0);
        r.flags.extend(walked.then_some("exercise_in_window"));
        (m, r)
    });
    let mut r = responses(made.collect(), unknown());
    (1..24).step_by(4).for_each(|i| r.walks[i] = Some((20.0, 15.0)));
    let found = terms(&r, 5.0, 0.95).unwrap();
    assert_eq!(found[0].meals, 24);
    assert!((found[0].effect_mg_dl.value.unwrap() + 12.0).abs() < 1e-9);
    // Exercise that is no walk does not count.
    r.walks[1] = None;
    assert_eq!(terms(&r, 5.0, 0.95).unwrap()[0].meals, 23);
}

/// 5 g of fibre take 4 off, exactly; what is not in the diary has a reason.
#[test]
fn fibre_is_found() {
    let made = (0..18).map(|i| {
        let fiber = [2.0, 9.0, 5.0][i / 6] + (i % 2) as f64;
        let (m, r) = meal(DOSES[i % 6] + fiber, 3.0 + DOSES[i % 6] - 0.8 * fiber, 100.0);
        (Meal { fiber_g: Some(fiber), ..m }, r)
    });
    let found = terms(&responses(made.collect(), unknown()), 5.0, 0.95).unwrap();
    let fiber = &found[1].effect_mg_dl;
    assert!((fiber.value.unwrap() + 4.0).abs() < 1e-9, "{fiber:?}");
    assert!(found[1].left_out_mg_dl.unwrap() < 1e-9);
    assert!(found[1].left_out_without_mg_dl.unwrap() > 1.0);
    assert_eq!(found[0].effect_mg_dl.reason.as_ref().unwrap().code, "too_few_on_a_side");
    assert_eq!(found[2].effect_mg_dl.reason.as_ref().unwrap().code, "too_few_meals");
    assert_eq!(found[4].effect_mg_dl.reason.as_ref().unwrap().code, "made");
}

/// 5 g of fibre take 3 off, a meal's spread grows with its grams: over 400 diaries of 16 meals the mean
/// is that, and a 90 % interval holds it about as often as it says.
#[test]
fn the_interval_of_a_term_holds_it() {
    let mut random = Random::keyed(4_900_002, 7, 0);
    let (mut mean, mut held) = (0.0, 0);
    const DIARIES: usize = 400;
    for _ in 0..DIARIES {
        let made = (0..16).map(|i| {
            let (net, fiber) = (DOSES[i % 6], 2.0 + 8.0 * random.uniform());
            let rise = 5.0 + net - 0.6 * fiber + (2.0 + 0.1 * net) * random.normal();
            let (m, r) = meal(net + fiber, rise, 100.0);
            (Meal { fiber_g: Some(fiber), ..m }, r)
        });
        let found = terms(&responses(made.collect(), unknown()), 5.0, 0.9).unwrap();
        mean += found[1].effect_mg_dl.value.unwrap() / DIARIES as f64;
        held += usize::from(found[1].effect_mg_dl.covers(-3.0));
    }
    // Binomial, 99.8 %: 90 % of 400 give or take 18. The error of the mean is about 0.2.
    assert!((mean + 3.0).abs() < 0.6, "{mean}");
    assert!((342..=378).contains(&held), "{held}");
}

/// The slope on the baseline is 0 in truth; noise in the baseline is in the rise with its sign
/// turned. Over 200 diaries the mean of the corrected slope is 0, plain least squares' is not, and
/// the interval holds 0 about as often as it says.
#[test]
fn noise_in_the_baseline_makes_no_slope() {
    let noise = white(9.0);
    let (own, across) = noise_of(&noise, 6, 5.0, 60.0);
    // The mean of six readings; the peak's noise is another.
    assert!((own - 81.0 / 6.0).abs() < 1e-12 && (across + own).abs() < 1e-12);
    let mut random = Random::keyed(4_900_001, 7, 0);
    let (mut corrected, mut plain, mut held) = (0.0, 0.0, 0);
    const DIARIES: usize = 200;
    for _ in 0..DIARIES {
        let made = (0..30).map(|i| {
            let before = 100.0 + 9.0 * random.normal();
            let off = own.sqrt() * random.normal();
            let rise = 5.0 + DOSES[i % 6] + 5.0 * random.normal();
            meal(DOSES[i % 6], rise - off, before + off)
        });
        let r = responses(made.collect(), Ok(noise));
        let found = terms(&r, 5.0, 0.9).unwrap().pop().unwrap().effect_mg_dl;
        corrected += found.value.unwrap() / DIARIES as f64;
        held += usize::from(found.covers(0.0));
        let k = Known {
            grams: r.meals.iter().map(|m| m.carbs_g.unwrap()).collect(),
            term: r.rows.iter().map(|row| row.baseline_mg_dl.unwrap() / 10.0).collect(),
            rises: r.rows.iter().map(|row| row.rise_mg_dl.unwrap()).collect(),
        };
        let naive = super::plain(&k, "before", "10 mg/dL", 0.9).unwrap();
        plain += naive.effect_mg_dl.value.unwrap() / DIARIES as f64;
    }
    // Var 81 + 13.5: plain finds -10 · 13.5 / 94.5 = -1.43; the error of the mean is about 0.1.
    assert!(corrected.abs() < 0.4, "{corrected}");
    assert!((plain + 1.43).abs() < 0.4, "{plain}");
    assert!((170..=192).contains(&held), "{held}");
}

/// Baselines that differ by no more than the noise does tell nothing.
#[test]
fn mostly_noise_is_said() {
    let made = (0..24).map(|i| meal(DOSES[i % 6], DOSES[i % 6], 100.0 + (i % 5) as f64));
    let r = responses(made.collect(), Ok(white(4.0)));
    let found = terms(&r, 5.0, 0.95).unwrap().pop().unwrap();
    assert_eq!(found.effect_mg_dl.reason.unwrap().code, "mostly_noise");
    assert!(terms(&r, f64::NAN, 0.95).is_err() && terms(&r, 5.0, 2.0).is_err());
    assert_eq!(table(&terms(&r, 5.0, 0.95).unwrap()).unwrap().rows(), 5);
}
