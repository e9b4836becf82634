//! Runs the studies and prints their tables; with `--keep` writes them to `tests/studies/` too.
//!
//! `cargo run --release -p glycemic-tests --bin study -- [tolerance|rise|levels|meals|contrast|recalibration|pressure|lag|behaviour|agreement|blood]...
//! [--trials N] [--first SEED] [--scenario ID] [--keep]`
//!
//! Without a name every study runs.

use std::path::Path;

use glycemic_core::simulate::Scenario;
use glycemic_tests::study::levels::{self, Kind};
use glycemic_tests::study::{
    self, LEVEL, agreement, behaviour, behaviour_events, blood, commit, contrast, contrast_trials,
    lag, markdown, meals, pressure, rise, sensor, tolerance,
};

type Outcome<T> = Result<T, Box<dyn std::error::Error>>;

/// Fixed in advance: low and high sensor noise, few doses, few meals, a skewed diary, linked days;
/// and three in which an assumption of the estimators is wrong.
const SCENARIOS: &[&str] = &[
    "demo",
    "few_doses",
    "few_meals",
    "high_noise",
    "low_noise",
    "skewed_diary",
    "linked_days",
    "late_diary",
    "other_noise",
    "other_world",
];

struct Wish {
    names: Vec<String>,
    trials: Option<u64>,
    first: Option<u64>,
    scenario: Option<String>,
    keep: bool,
}

fn main() -> Outcome<()> {
    let wish = wish()?;
    let all = [
        "tolerance",
        "rise",
        "levels",
        "meals",
        "contrast",
        "recalibration",
        "pressure",
        "lag",
        "behaviour",
        "agreement",
        "blood",
    ];
    if let Some(unknown) = wish.names.iter().find(|n| !all.contains(&n.as_str())) {
        return Err(format!("no study called {unknown}; there are {}", all.join(", ")).into());
    }
    for name in all.iter().filter(|n| wish.names.is_empty() || wish.names.iter().any(|w| w == *n)) {
        let text = match *name {
            "tolerance" => of_tolerance(&wish)?,
            "rise" => of_rise(&wish)?,
            "meals" => of_meals(&wish)?,
            "contrast" => of_contrast(&wish)?,
            "recalibration" => of_recalibration(&wish)?,
            "pressure" => of_pressure(&wish)?,
            "lag" => of_lag(&wish)?,
            "behaviour" => of_behaviour(&wish)?,
            "agreement" => of_agreement(&wish)?,
            "blood" => of_blood(&wish)?,
            _ => of_levels(&wish)?,
        };
        println!("{text}");
        if wish.keep {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("studies/{name}.md"));
            std::fs::write(&path, text)?;
            eprintln!("kept as {}", path.display());
        }
    }
    Ok(())
}

fn wish() -> Outcome<Wish> {
    let mut wish = Wish { names: vec![], trials: None, first: None, scenario: None, keep: false };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        match word.as_str() {
            "--trials" => wish.trials = Some(value()?.parse()?),
            "--first" => wish.first = Some(value()?.parse()?),
            "--scenario" => wish.scenario = Some(value()?),
            "--keep" => wish.keep = true,
            _ => wish.names.push(word),
        }
    }
    Ok(wish)
}

fn scenarios(wish: &Wish) -> Outcome<Vec<Scenario>> {
    let one = |id: &&str| Scenario::named(id).ok_or(format!("no scenario called {id}"));
    match &wish.scenario {
        Some(id) => Ok(vec![one(&id.as_str())?]),
        None => Ok(SCENARIOS.iter().map(one).collect::<Result<_, _>>()?),
    }
}

fn head(title: &str, first: u64, trials: u64) -> String {
    format!(
        "# {title}\n\nSeeds {first} to {}, {trials} trials each, commit {}. Level of the intervals {} %.\n\n",
        first + trials - 1,
        commit(),
        100.0 * LEVEL
    )
}

fn of_tolerance(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(4_000_000), wish.trials.unwrap_or(500));
    let (mut rows, mut beside, mut searched) = (Vec::new(), Vec::new(), String::new());
    for scenario in scenarios(wish)? {
        let of = tolerance::study(&scenario, first, trials)?;
        rows.extend(of.rows);
        beside.extend(of.beside);
        searched.push_str(&of.searched);
    }
    Ok(format!(
        "{}{}\n## Beside it\n\n{}\n## Meals that do not fit\n\nStated rate 0.10; a true misfit is a meal with hidden carbohydrate.\n\n{}{searched}",
        head("Carbohydrate tolerance", first, trials),
        markdown(&rows)?,
        markdown(&beside)?,
        tolerance::MISFITS,
    ))
}

fn of_agreement(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(5_830_000), wish.trials.unwrap_or(300));
    let mut rows = Vec::new();
    for scenario in scenarios(wish)? {
        rows.extend(agreement::study(&scenario, first, trials)?);
    }
    let note = "Truth: all pairs of 1,000 other trials with the same lot of strips. Intervals of shares are exact and need only reach 90 %.";
    Ok(format!("{}{note}\n\n{}", head("Agreement with the meter", first, trials), markdown(&rows)?))
}

fn of_blood(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(5_840_000), wish.trials.unwrap_or(200));
    let text = head("Carbohydrate tolerance in blood", first, trials);
    Ok(text + &markdown(&blood::study(first, trials)?)?)
}

fn of_rise(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(4_100_000), wish.trials.unwrap_or(40));
    Ok(head("Rise: as displayed and noise-aware, mg/dL", first, trials)
        + &rise::table(first, trials)?)
}

fn of_levels(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(4_200_000), wish.trials.unwrap_or(500));
    let ids = match &wish.scenario {
        Some(id) => vec![id.as_str()],
        None => levels::SCENARIOS.to_vec(),
    };
    let mut text = String::new();
    for (kind, title, lengths) in [
        (Kind::AsRead, "Panel: as this sensor reads", vec![7, 14, 28]),
        (Kind::InBlood, "Panel: in blood, noise not known", vec![7, 14, 28]),
        (Kind::InBloodNoiseKnown, "Panel: in blood, noise known", vec![14]),
        (Kind::TwoHalves, "Panel: second half less first, nothing changed", vec![28]),
    ] {
        text.push_str(&head(title, first, trials));
        for days in lengths {
            let mut rows: Vec<study::Row> = Vec::new();
            for id in &ids {
                let scenario = Scenario::named(id).ok_or(format!("no scenario called {id}"))?;
                rows.extend(levels::study(kind, &scenario, days, first, trials)?);
            }
            text.push_str(&format!("## {days} days\n\n{}\n", markdown(&rows)?));
        }
    }
    Ok(text)
}

/// What the trace says that the diary doesn't.
fn of_meals(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(4_300_000), wish.trials.unwrap_or(60));
    let of = |ids: &[&str]| -> Outcome<Vec<Scenario>> {
        let chosen = ids.iter().filter(|id| wish.scenario.as_deref().is_none_or(|w| w == **id));
        Ok(chosen.filter_map(|id| Scenario::named(id)).collect())
    };
    let missing = of(&["demo", "high_noise", "other_noise", "other_world", "lows"])?;
    let noise = of(&["demo", "low_noise", "high_noise", "other_noise", "other_world"])?;
    let late = of(&["demo", "high_noise", "late_diary"])?;
    Ok(head("Meals: what the trace says that the diary doesn't", first, trials)
        + &format!(
            "## Unlogged meals\n\nEight in 14 days are missing from the diary; those that raise the noise-free sensor by 25 mg/dL or more should be found within 20 min of the start.\n\n{}\n\
             ## Noise and floor\n\n{}\n## Start of the meal\n\n{}",
            meals::unlogged_table(&missing, first, trials)?,
            meals::floor_table(&noise, first, trials)?,
            meals::onset_table(&late, first, trials)?,
        ))
}

/// Dips that may be pressure on the sensor.
fn of_pressure(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(5_600_000), wish.trials.unwrap_or(100));
    let ids = ["demo", "lows", "high_noise", "low_noise", "other_noise", "other_world", "mmol_dst"];
    let chosen = ids.iter().filter(|id| wish.scenario.as_deref().is_none_or(|w| w == **id));
    let scenarios: Vec<Scenario> = chosen.filter_map(|id| Scenario::named(id)).collect();
    Ok(head("Pressure on the sensor", first, trials)
        + "Pressure lows at least 20 mg/dL deep and 20 min long should be found (probability from 0.5 on), without the meter. All scenarios but demo (2 and 0) have 4 pressure lows and 3 true ones in 14 days.\n\n"
        + &pressure::tables(&scenarios, first, trials)?)
}

/// First day, steps, flat lines, drop-outs, noise and alarms.
fn of_behaviour(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(5_820_000), wish.trials.unwrap_or(200));
    Ok(head("What a sensor does", first, trials)
        + &format!(
            "## First day\n\nDemo trials. Unsteady: sensor - meter spreads at least twice as much as later; the truth of the wobble is the hour at which its envelope falls under that. Planted: until hour 12 a normal error of SD 25 mg/dL every half hour, straight lines between.\n\n{}\n\
             ## Steps\n\nDemo trials without drift; on day 7 the sensor is swapped for one that reads so much more. Lag known. Found: the interval leaves out 0; at 0 that is a false one.\n\n{}\n\
             ## Flat lines\n\nThe simulator has none. Planted: at a random place the displayed value of one reading is repeated over so many readings, once in a trial.\n\n{}\n\
             ## Drop-outs\n\nDemo trials whose only gaps are drop-outs at a stated rate.\n\n{}\n\
             ## Noise\n\nNo pressure, one sensor. Doubled: from wear day 8 on each reading's distance from the sensor without noise is twice as large. Louder: on most of those days the interval of the jitter lies above the median day before.\n\n{}\n\
             ## Alarms\n\nBelow 70 and above 180 mg/dL, armed again 5 mg/dL past the level; beside it the same of the sensor without noise and pressure, matched within 30 min. These figures describe alarms and are no reason to switch one off.\n\n{}",
            behaviour::first_days(first, trials)?,
            behaviour::steps_table(first, trials)?,
            behaviour_events::flats(first, trials)?,
            behaviour_events::lost(first, trials)?,
            behaviour::noises(first, trials)?,
            behaviour_events::alarms_table(first, trials)?,
        ))
}

/// Shift, delay and wrong hours; scenarios fixed in advance.
fn of_lag(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(5_700_000), wish.trials.unwrap_or(300));
    let ids = ["demo", "high_noise", "low_noise", "other_world", "mmol_dst", "wrong_hour"];
    let chosen = ids.iter().filter(|id| wish.scenario.as_deref().is_none_or(|w| w == **id));
    let chosen: Vec<Scenario> = chosen.filter_map(|id| Scenario::named(id)).collect();
    let mut rows = Vec::new();
    for scenario in &chosen {
        rows.extend(lag::study(scenario, first, trials)?);
    }
    let hours = lag::hours(&chosen, first, trials)?;
    let text = head("Lag and clock, minutes", first, trials) + &markdown(&rows)?;
    Ok(format!("{text}\n## Hours of the meter's clock\n\n{hours}"))
}

/// Fast trials by the number asked for, simulated ones a thirtieth of it.
fn of_contrast(wish: &Wish) -> Outcome<String> {
    let (first, trials) = (wish.first.unwrap_or(4_300_000), wish.trials.unwrap_or(10_000));
    let mut text = head("Contrasts: errors under no effect, and power", first, trials);
    text.push_str("## No effect, fast trials\n\n");
    text.push_str(&contrast::rejections(&contrast::null(first, trials)?)?);
    text.push_str("\n## Power of pairs\n\n| plan | promised % | seen % |\n| --- | --- | --- |\n");
    for (words, promised, seen) in contrast::pairs_power(first, trials)? {
        text.push_str(&format!("| {words} | {promised:.1} | {seen:.1} |\n"));
    }
    text.push_str("\n## An effect as large as the trial's own smallest visible one\n\n");
    text.push_str("| world | effect | seen % (80 promised) | 90 % interval covers % |\n");
    text.push_str("| --- | --- | --- | --- |\n");
    for by_day in [false, true] {
        for world in contrast::WORLDS {
            let (effect, seen, covered) =
                contrast::visible_power(world, first, trials / 4, by_day)?;
            let by = if by_day { "days" } else { "meals" };
            text.push_str(&format!(
                "| {}, by {by} | {effect:.1} | {seen:.1} | {covered:.1} |\n",
                world.name
            ));
        }
    }
    text.push_str(&contrast_trials::report(first, (trials / 50).max(1))?);
    Ok(text)
}

/// Offset, drift and step, and what setting the sensor by the meter does.
fn of_recalibration(wish: &Wish) -> Outcome<String> {
    use sensor::Lag;
    let (first, trials) = (wish.first.unwrap_or(5_500_000), wish.trials.unwrap_or(300));
    let mut text = head("The sensor against the meter", first, trials);
    let chosen = |id: &&&str| wish.scenario.as_deref().is_none_or(|w| w == **id);
    for (known, title) in [(Lag::Known, "lag known"), (Lag::Estimated, "lag estimated")] {
        let mut rows = Vec::new();
        for id in sensor::SCENARIOS.iter().filter(chosen) {
            let scenario = Scenario::named(id).ok_or(format!("no scenario called {id}"))?;
            rows.extend(sensor::study(&scenario, known, first, trials)?);
        }
        text.push_str(&format!("## Offset, drift, step: {title}\n\n{}\n", markdown(&rows)?));
    }
    if wish.scenario.is_none() {
        let variants = sensor::variants();
        for (known, title) in [(Lag::Known, "lag known"), (Lag::Estimated, "lag estimated")] {
            let table = sensor::table(&variants, known, first, trials)?;
            text.push_str(&format!("## Recalibration: {title}\n\n{table}\n"));
        }
    }
    Ok(text)
}
