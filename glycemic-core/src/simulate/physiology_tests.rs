//! People against what is published of people.

#![allow(clippy::unwrap_used, reason = "a test that cannot unwrap has failed")]

use super::food::{Bite, Kind};
use super::model::{Drive, Emptying, GP, KABS, KMAX, NORMAL, SOLID, oral_meal};
use super::person::{Body, Day, HEALTHY, Lag, OTHER_WORLD, Person, RESISTANT, Ready};
use super::population::{Class, person};
use super::random::{Purpose, Random, factor};
use crate::area::{Rule, incremental, total};

const REST: Day = Day { production: 0.0, sensitivity: 1.0 };
const ALL: [Class; 3] = [Class::Healthy, Class::Intermediate, Class::Resistant];

/// The adult whose parameters the two models' papers print, in each world.
const PAPERS: [Person; 2] = [
    Person {
        weight_kg: 78.0,
        basal_glucose_mg_dl: 95.0,
        basal_insulin_pmol_l: 25.0,
        insulin_action: 1.0,
        liver_action: 1.0,
        basal_uptake: 1.0,
        level_response: 1.0,
        rate_response: 1.0,
        emptying: 1.0,
        ..HEALTHY
    },
    Person {
        weight_kg: 78.0,
        basal_glucose_mg_dl: 92.0,
        basal_insulin_pmol_l: 43.8,
        insulin_action: 1.0,
        liver_action: 1.0,
        basal_uptake: 1.0,
        level_response: 1.0,
        rate_response: 1.0,
        emptying: 1.0,
        ..OTHER_WORLD
    },
];

/// Food alone, without fat, protein or fibre.
fn plain(kind: Kind, acting_g: f64) -> Bite {
    Bite { acting_g, kind, speed: 1.0, fat_g: 0.0, protein_g: 0.0, fiber_g: 0.0 }
}

/// A mixed meal of the plain day.
fn mixed(acting_g: f64) -> Bite {
    Bite { fat_g: 15.0, protein_g: 20.0, fiber_g: 5.0, ..plain(Kind::Grain, acting_g) }
}

/// Blood by minute after `bite` at minute `at` of the day, three hours after being at rest.
/// `walk`: start after the meal and minutes.
fn after(p: &Person, bite: &Bite, at: usize, minutes: usize, walk: (usize, usize)) -> Vec<f64> {
    let (ready, lag) = (Ready::new(p), Lag::new(0.0));
    let mut body = Body::rested(&ready);
    for minute in at - 180..at {
        body.step(&ready, minute, &REST, 0.0, &lag);
    }
    body.eat(bite);
    let mut glucose = vec![body.blood(&ready)];
    for minute in 0..minutes {
        let walking = (walk.0..walk.0 + walk.1).contains(&minute);
        body.step(&ready, at + minute, &REST, f64::from(u8::from(walking)), &lag);
        glucose.push(body.blood(&ready));
    }
    glucose
}

/// Incremental area as of glycaemic-index tests: from the first value, what is below not counted.
fn area(glucose: &[f64]) -> f64 {
    let minutes: Vec<f64> = (0..glucose.len()).map(|minute| minute as f64).collect();
    incremental(&minutes, glucose, None, Rule::Positive).unwrap()
}

/// Highest value, and where it stands.
fn top(values: &[f64]) -> (f64, usize) {
    let peak = values.iter().copied().fold(f64::MIN, f64::max);
    (peak, values.iter().position(|&value| value == peak).unwrap())
}

fn lowest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::MAX, f64::min)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn sd(values: &[f64]) -> f64 {
    let middle = mean(values);
    let squares = values.iter().map(|value| (value - middle) * (value - middle)).sum::<f64>();
    (squares / (values.len() - 1) as f64).sqrt()
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Minute of the day and net carbohydrate of the plain day's meals: ours, of a usual size.
const MEALS: [(usize, f64); 3] = [(450, 55.0), (780, 60.0), (1140, 70.0)];
const DAYS: usize = 7;

/// A week of plain days in blood, by minute; meals and days vary as the person's knobs say.
fn week(p: &Person, seed: u64) -> Vec<f64> {
    let (ready, lag) = (Ready::new(p), Lag::new(0.0));
    let mut random = Random::new(seed, Purpose::MealVariation);
    let mut body = Body::rested(&ready);
    let mut glucose = Vec::new();
    let mut day = REST;
    for minute in 0..(DAYS + 1) * 1440 {
        if minute % 1440 == 0 {
            day.production = p.day_production_sd * random.normal();
        }
        if let Some(&(_, grams)) = MEALS.iter().find(|meal| meal.0 == minute % 1440) {
            let acting_g = grams * factor(p.meal_cv, random.normal());
            body.eat(&Bite { speed: factor(p.speed_cv, random.normal()), ..mixed(acting_g) });
        }
        if minute >= 1440 {
            glucose.push(body.blood(&ready));
        }
        body.step(&ready, minute, &day, 0.0, &lag);
    }
    glucose
}

/// Every printed digit of a table made with another integrator (LSODA, steps of at most a minute)
/// from the same equations and the same rounded start: peak of glucose and its minute, glucose at
/// 120, 180, 300 min, peak insulin, peak appearance, least production.
#[test]
fn the_oral_meal_reproduces_the_table_to_its_digits() {
    for (grams, peak, at, later, insulin, insulin_at, ra, egp, egp_at) in [
        (78.0, 158.5, 64, [132.7, 98.4, 90.6], 255.0, 96, 7.15, 0.658, 98),
        (75.0, 156.3, 64, [132.0, 98.7, 90.5], 243.0, 96, 6.88, 0.700, 98),
        (50.0, 137.0, 69, [124.0, 100.6, 90.5], 157.0, 100, 4.59, 1.067, 103),
        (45.0, 132.9, 69, [121.8, 100.7, 90.5], 141.0, 100, 4.13, 1.144, 104),
    ] {
        let meal = oral_meal(grams, 420).unwrap();
        let glucose = &meal.glucose_mg_dl;
        let least = lowest(&meal.production_mg_kg_min);
        let least_at = meal.production_mg_kg_min.iter().position(|&e| e == least).unwrap();
        // Half a unit in the last printed place.
        for (got, want, half) in [
            (top(glucose).0, peak, 0.05),
            (glucose[120], later[0], 0.05),
            (glucose[180], later[1], 0.05),
            (glucose[300], later[2], 0.05),
            (top(&meal.insulin_pmol_l).0, insulin, 0.5),
            (top(&meal.appearance_mg_kg_min).0, ra, 0.005),
            (least, egp, 0.0005),
        ] {
            assert!((got - want).abs() <= half, "{grams} g: {got} against {want}");
        }
        assert_eq!((top(glucose).1, top(&meal.insulin_pmol_l).1), (at, insulin_at), "{grams} g");
        assert_eq!((top(&meal.appearance_mg_kg_min).1, least_at), (20, egp_at), "{grams} g");
        // The same table: EGP(0) = 1.877; to 420 min, 0.962 f D/BW has appeared.
        assert!((meal.production_mg_kg_min[0] - 1.877).abs() <= 0.0005);
        if grams == 78.0 {
            let minutes: Vec<f64> = (0..=420).map(f64::from).collect();
            let appeared = total(&minutes, &meal.appearance_mg_kg_min).unwrap() / 900.0;
            assert!((appeared - 0.962).abs() <= 0.0005, "{appeared}");
        }
    }
}

#[test]
fn steps_of_a_minute_are_fine_enough() {
    for grams in [5.0, 45.0, 78.0, 150.0] {
        let coarse = oral_meal(grams, 600).unwrap().glucose_mg_dl;
        let meal = Emptying { dose_mg: 1000.0 * grams, kmax: KMAX, kabs: KABS };
        let mut s = [178.6, 135.0, 4.5, 1.25, 0.0, 0.0, 0.0, 25.0, 25.0, 0.0, 3.6, 0.0];
        s[SOLID] = meal.dose_mg;
        for (minute, coarse) in coarse.iter().enumerate() {
            let fine = s[GP] / NORMAL.vg;
            assert!((coarse - fine).abs() < 0.1, "{grams} g, {minute} min: {coarse} {fine}");
            for _ in 0..20 {
                s = NORMAL.part(&s, 0.05, &meal, &Drive::NONE);
            }
        }
    }
}

#[test]
fn an_impossible_oral_meal_is_an_error() {
    assert_eq!(oral_meal(300.5, 10).unwrap_err().argument(), Some("grams"));
    assert_eq!(oral_meal(-1.0, 10).unwrap_err().argument(), Some("grams"));
    assert_eq!(oral_meal(f64::NAN, 10).unwrap_err().code(), "not_finite");
    assert_eq!(oral_meal(50.0, 1441).unwrap_err().argument(), Some("minutes"));
    assert_eq!(oral_meal(300.0, 1440).unwrap().glucose_mg_dl.len(), 1441);
    assert_eq!(oral_meal(0.0, 0).unwrap().insulin_pmol_l, [25.0]);
}

#[test]
fn without_food_and_clock_everyone_is_flat() {
    let people = ALL.iter().flat_map(|&class| (0..20).map(move |seed| person(class, seed)));
    for p in people.chain([HEALTHY, RESISTANT, OTHER_WORLD]) {
        let still = Person { daily_swing: 0.0, morning_production: 0.0, ..p };
        let glucose = after(&still, &plain(Kind::Grain, 0.0), 480, 1000, (0, 0));
        assert!(glucose.iter().all(|g| (g - p.basal_glucose_mg_dl).abs() < 1e-6), "{p:?}");
    }
}

/// Bands of the international tables for the groups of food (Atkinson 2008, from memory), by the
/// tables' own method: 2-h area of 50 g against glucose, in normal adults. Also the rise per gram,
/// for those with insulin resistance too.
#[test]
fn foods_stand_in_the_order_of_the_tables() {
    let areas =
        |p: &Person| Kind::ALL.map(|kind| area(&after(p, &plain(kind, 50.0), 480, 120, (0, 0))));
    let quick = areas(&HEALTHY);
    println!("not met: healthy {:.1?}", quick.map(|area| 100.0 * area / quick[0]));
    for p in &PAPERS {
        let found = areas(p);
        let index = found.map(|area| 100.0 * area / found[0]);
        println!("{:?}: {index:.1?}", p.world);
        let bands = [(100.0, 100.0), (55.0, 75.0), (40.0, 55.0), (30.0, 40.0), (25.0, 35.0)];
        for ((kind, index), (low, high)) in Kind::ALL.iter().zip(index).zip(bands) {
            assert!((low..=high).contains(&index), "{:?} {kind:?}: {index}", p.world);
        }
    }
    for p in PAPERS.iter().chain(&[HEALTHY, RESISTANT, OTHER_WORLD]) {
        let rises = Kind::ALL.map(|kind| {
            let glucose = after(p, &plain(kind, 50.0), 480, 240, (0, 0));
            top(&glucose).0 - glucose[0]
        });
        // Sweets come last in the list and are no part of the order.
        assert!(rises[..5].is_sorted_by(|one, next| one > next), "{p:?}: {rises:?}");
    }
}

/// Moghaddam (2006), from memory: fat and protein lower the area after glucose, protein about
/// twice as much per gram. Sizes are our own and smaller.
#[test]
fn fat_protein_and_fibre_slow_a_meal() {
    for p in PAPERS.iter().chain(&[RESISTANT, OTHER_WORLD]) {
        let eat = |p: &Person, fat_g, protein_g, fiber_g| {
            let bite = Bite { fat_g, protein_g, fiber_g, ..plain(Kind::Drink, 50.0) };
            after(p, &bite, 480, 120, (0, 0))
        };
        let alone = eat(p, 0.0, 0.0, 0.0);
        let lost = |glucose: &[f64]| 1.0 - area(glucose) / area(&alone);
        let (fat, protein) = (eat(p, 30.0, 0.0, 0.0), eat(p, 0.0, 30.0, 0.0));
        println!("{:?}: fat {:.3}, protein {:.3}", p.world, lost(&fat), lost(&protein));
        assert!(lost(&fat) > 0.01 && (1.5..3.0).contains(&(lost(&protein) / lost(&fat))));
        assert!(top(&fat).1 > top(&alone).1 && top(&fat).0 < top(&alone).0);
        assert!(lost(&eat(p, 0.0, 0.0, 8.0)) > 0.005);
        let deaf = Person {
            fiber_slowing_per_g: 0.0,
            protein_slowing_per_g: 0.0,
            fat_slowing_per_g: 0.0,
            ..*p
        };
        assert_eq!(eat(&deaf, 30.0, 30.0, 8.0), alone);
    }
}

/// Reynolds (2016), adults with type 2 diabetes: ratio of the 3-h areas with a 10-min walk after
/// the meal 0.88 (0.78-0.99), after the evening meal 0.78 (0.67-0.91).
#[test]
fn walks_are_of_the_published_size() {
    let ratio = |p: &Person, at, minutes| {
        let with = after(p, &mixed(50.0), at, 180, (15, minutes));
        area(&with) / area(&after(p, &mixed(50.0), at, 180, (0, 0)))
    };
    let others = (0..20).map(|seed| Person {
        walk_uptake: person(Class::Resistant, seed).walk_uptake,
        ..OTHER_WORLD
    });
    let mut groups: Vec<Vec<Person>> =
        ALL.iter().map(|&class| (0..20).map(|seed| person(class, seed)).collect()).collect();
    groups.push(others.collect());
    for people in &groups {
        let over = |at| mean(&people.iter().map(|p| ratio(p, at, 10)).collect::<Vec<_>>());
        let (noon, evening) = (over(780), over(1140));
        println!("{:?}: noon {noon:.3}, evening {evening:.3}", people[0].world);
        assert!((0.78..=0.99).contains(&noon), "{noon}");
        // The evening figure is for those whose glucose is raised, as in the trial.
        if people[0].insulin_action < 0.8 {
            assert!((0.67..=0.91).contains(&evening), "{evening}");
        }
        assert!(people.iter().all(|p| ratio(p, 780, 30) < ratio(p, 780, 10)));
    }
}

#[test]
fn harder_effort_takes_more_and_fasting_effort_makes_no_low() {
    for p in [HEALTHY, RESISTANT, OTHER_WORLD] {
        let (ready, lag) = (Ready::new(&p), Lag::new(0.0));
        let least = [0.0, 1.0, 1.8, 2.5].map(|effort| {
            let mut body = Body::rested(&ready);
            let values = (0..120).map(|minute| {
                body.step(
                    &ready,
                    400 + minute,
                    &REST,
                    if minute < 30 { effort } else { 0.0 },
                    &lag,
                );
                body.blood(&ready)
            });
            lowest(&values.collect::<Vec<_>>())
        });
        println!("{:?}: lowest while fasting {least:.1?}", p.world);
        assert!(least.is_sorted_by(|one, next| one > next) && least[3] > 70.0, "{least:?}");
    }
}

#[test]
fn a_day_acts_in_both_worlds() {
    for p in [HEALTHY, RESISTANT, OTHER_WORLD] {
        let (ready, lag) = (Ready::new(&p), Lag::new(0.0));
        let run = |day: &Day, at: usize, grams: f64| {
            let mut body = Body::rested(&ready);
            body.eat(&mixed(grams));
            let values = (0..240).map(|minute| {
                body.step(&ready, at + minute, day, 0.0, &lag);
                body.blood(&ready)
            });
            values.collect::<Vec<f64>>()
        };
        let usual = mean(&run(&REST, 780, 60.0));
        assert!(mean(&run(&Day { sensitivity: 0.8, ..REST }, 780, 60.0)) > usual);
        assert!(mean(&run(&Day { production: 0.1, ..REST }, 780, 60.0)) > usual);
        // Insulin acts better in the morning, and at dawn the liver puts out more.
        assert!(mean(&run(&REST, 1140, 60.0)) > mean(&run(&REST, 540, 60.0)));
        assert!(top(&run(&REST, 300, 0.0)).0 > p.basal_glucose_mg_dl + 0.3);
    }
}

#[test]
fn a_true_low_is_low_and_ends() {
    for p in [HEALTHY, RESISTANT, OTHER_WORLD, PAPERS[0], PAPERS[1]] {
        let (ready, lag) = (Ready::new(&p), Lag::new(0.0));
        for (production, minutes, deepest) in
            [(-5.0, 60, 70.0), (-5.0, 90, 54.0), (-1e6, 600, 54.0)]
        {
            let mut body = Body::rested(&ready);
            let values = (0..minutes + 720).map(|minute| {
                let production = if minute < minutes { production } else { 0.0 };
                body.step(&ready, 60 + minute, &Day { production, ..REST }, 0.0, &lag);
                body.blood(&ready)
            });
            let values: Vec<f64> = values.collect();
            let least = lowest(&values);
            println!("{:?} {minutes} min: {least:.1}", p.world);
            assert!(least < deepest && least > 35.0, "{least}");
            let end = values[values.len() - 1];
            assert!((end - p.basal_glucose_mg_dl).abs() < 3.0, "{end}");
        }
    }
}

/// A week of plain days in 80 healthy people, in blood without a sensor, against mean +- SD of
/// - Freckmann (2007), young adults: 24-h mean 89.3 +- 6.2; mean peaks after breakfast 132.3 +-
///   16.7, lunch 118.2 +- 13.4, dinner 123.0 +- 16.9 (calibrated to capillary blood; own meals);
/// - Shah (2019): CV within a person 17 +- 3 % (as a sensor reads, so with its noise).
///
/// Not met, and printed: Freckmann's time to peak, 46 to 50 min (the meal model's solids take
/// longer); Shah's 70-140 median of 96 %, quartiles 93-98 % (blood has no sensor's error, and every
/// meal here is of a usual size).
#[test]
fn healthy_days_are_as_published() {
    let people: Vec<Person> = (0..80).map(|seed| person(Class::Healthy, seed)).collect();
    let weeks: Vec<Vec<f64>> = people.iter().zip(0..).map(|(p, seed)| week(p, seed)).collect();
    let means: Vec<f64> = weeks.iter().map(|week| mean(week)).collect();
    let cvs: Vec<f64> = weeks.iter().map(|week| 100.0 * sd(week) / mean(week)).collect();
    println!(
        "mean {:.1} +- {:.1}, CV {:.1} +- {:.1}",
        mean(&means),
        sd(&means),
        mean(&cvs),
        sd(&cvs)
    );
    assert!((83.1..=95.5).contains(&mean(&means)), "{}", mean(&means));
    assert!((14.0..=20.0).contains(&mean(&cvs)), "{}", mean(&cvs));
    // People differ, but no more than the published do.
    assert!((3.0..=6.2).contains(&sd(&means)), "{}", sd(&means));
    // The published SD of 3, seen in 80 people, has a standard error of 0.24.
    assert!((1.5..=3.0 + 2.0 * 0.24).contains(&sd(&cvs)), "{}", sd(&cvs));
    for ((at, _), (low, high)) in
        MEALS.into_iter().zip([(115.6, 149.0), (104.8, 131.6), (106.1, 139.9)])
    {
        let tops = weeks.iter().flat_map(|week| {
            (0..DAYS).map(move |day| top(&week[1440 * day + at..1440 * day + at + 180]))
        });
        let (peaks, minutes): (Vec<f64>, Vec<f64>) = tops.map(|(g, m)| (g, m as f64)).unzip();
        println!("peak {:.1} +- {:.1} at {:.0} min", mean(&peaks), sd(&peaks), mean(&minutes));
        assert!((low..=high).contains(&mean(&peaks)), "{}", mean(&peaks));
    }
    let share = |week: &Vec<f64>| {
        let inside = week.iter().filter(|g| (70.0..=140.0).contains(*g)).count();
        100.0 * inside as f64 / week.len() as f64
    };
    println!("70-140: median {:.1} %", middle(weeks.iter().map(share).collect()));
}

/// Freckmann (2007): four standard meals of 50 g peak at 99.2 to 137.2 mg/dL on average.
#[test]
fn standard_meals_of_healthy_people_peak_as_published() {
    for kind in [Kind::Grain, Kind::Fruit, Kind::Dairy, Kind::Legume] {
        let bite = Bite { kind, ..mixed(50.0) };
        let peaks = (0..60)
            .map(|seed| top(&after(&person(Class::Healthy, seed), &bite, 480, 180, (0, 0))).0);
        let peak = mean(&peaks.collect::<Vec<_>>());
        assert!((99.2..=137.2).contains(&peak), "{kind:?}: {peak}");
    }
}

/// WHO/IDF (2006): two hours after 75 g of glucose, under 140 is normal and 140-199 impaired.
#[test]
fn classes_are_what_they_are_called() {
    let found = ALL.map(|class| {
        let later = (0..60).map(|seed| {
            after(&person(class, seed), &plain(Kind::Drink, 75.0), 480, 120, (0, 0))[120]
        });
        mean(&later.collect::<Vec<_>>())
    });
    let other = after(&OTHER_WORLD, &plain(Kind::Drink, 75.0), 480, 120, (0, 0))[120];
    println!("2 h after 75 g: {found:.0?}, in the second world {other:.0}");
    assert!((140.0..200.0).contains(&other), "{other}");
    assert!(
        found.is_sorted() && found[1] < 140.0 && (140.0..200.0).contains(&found[2]),
        "{found:?}"
    );
}
