//! Published checks, kept as data in `tests/published/`, against the Rust library.
//!
//! Each file is one source: `source`, `origin`, `status`, `cases`, and where they apply `licence`
//! and `note`. A case has a `call`, its inputs, `expected`, `tolerance` and `why`, and may have
//! `relative`: a number passes when it is within `tolerance + relative × |expected|`.

#[path = "published_calls/agreement.rs"]
mod agreement_calls;
#[path = "published_calls/survival.rs"]
mod survival_calls;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use glycemic_core::agreement::{bland_altman, summary, within};
use glycemic_core::area::{self, Rule};
use glycemic_core::clock::LocalClock;
use glycemic_core::contrast::{Aim, Pair, paired};
use glycemic_core::interpolate::{Method, on_minutes};
use glycemic_core::panel::{self, MEASURES};
use glycemic_core::series::Builder;
use glycemic_core::stats::{
    binomial, distribution, line, multiplicity, noncentral_t, permutation, quantile, sen,
};
use glycemic_core::{Estimate, Unit};
use serde_json::Value;

/// Named results; one number, or a list of them, each of which may be missing.
type Answer = BTreeMap<String, Vec<Option<f64>>>;
type Outcome<T> = Result<T, String>;

/// Keys of a case that are no inputs.
const ABOUT: [&str; 5] = ["call", "expected", "tolerance", "relative", "why"];

#[test]
fn every_published_case() {
    let files = files();
    let mut failures = Vec::new();
    let mut total = 0;
    for path in &files {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let file = read(path);
        let cases = file["cases"].as_array().map(Vec::as_slice).unwrap_or_default();
        println!("{}: {} cases", text(&file, "source").unwrap(), cases.len());
        if cases.is_empty() {
            failures.push(format!("{name}: no case"));
        }
        for (i, case) in cases.iter().enumerate() {
            if let Err(what) = check(case) {
                failures.push(format!("{name}, case {i}, {}: {what}", case["call"]));
            }
        }
        total += cases.len();
    }
    println!("{total} cases from {} sources", files.len());
    assert!(total > 0, "no published case was found");
    assert!(failures.is_empty(), "{} failures:\n{}", failures.len(), failures.join("\n"));
}

#[test]
fn every_file_says_where_it_comes_from() {
    for path in files() {
        let file = read(&path);
        for key in ["source", "origin", "status"] {
            assert!(text(&file, key).is_ok_and(|t| !t.is_empty()), "{}: {key}", path.display());
        }
        for case in file["cases"].as_array().unwrap() {
            assert!(case["tolerance"].as_f64().is_some_and(|t| t >= 0.0), "{}", path.display());
            assert!(text(case, "why").is_ok_and(|t| !t.is_empty()), "{}: why", path.display());
        }
    }
}

/// The runner itself fails where it should.
#[test]
fn a_wrong_case_fails() {
    let wrong = |json: &str| check(&serde_json::from_str(json).unwrap()).unwrap_err();
    let case = |call: &str, expected: &str, more: &str| {
        format!(
            r#"{{"call": "{call}", "value": 1, "unit": "mmol/L", {more}
                "expected": {expected}, "tolerance": 1e-3, "why": "a test"}}"#
        )
    };
    assert!(wrong(&case("units.to_mg_dl", r#"{"value": 18.02}"#, "")).contains("18.0156"));
    assert!(wrong(&case("units.to_mg_dl", r#"{"value": null}"#, "")).contains("18.0156"));
    assert!(wrong(&case("units.to_mg_dl", r#"{"worth": 1}"#, "")).contains("worth"));
    assert!(wrong(&case("units.to_mg_dl", "{}", "")).contains("expects nothing"));
    assert!(
        wrong(&case("units.to_mg_dl", r#"{"value": 18.0156}"#, r#""vlue": 2,"#)).contains("vlue")
    );
    assert!(wrong(&case("units.unheard_of", r#"{"value": 1}"#, "")).contains("unknown call"));
    assert!(
        check(&serde_json::from_str(&case("units.to_mg_dl", r#"{"value": 18.0156}"#, "")).unwrap())
            .is_ok()
    );
}

fn files() -> Vec<PathBuf> {
    // Asked when the test runs: a copy of the workspace may share this build.
    let folder = PathBuf::from(std::env::var("CARGO_MANIFEST_DIR").unwrap()).join("published");
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .collect();
    files.sort();
    files
}

fn read(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap();
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn check(case: &Value) -> Outcome<()> {
    let inputs = Inputs { case, used: Default::default() };
    let answer = answer(text(case, "call")?, &inputs)?;
    inputs.all_used()?;
    let tolerance = number(case, "tolerance")?;
    let relative = case.get("relative").and_then(Value::as_f64).unwrap_or(0.0);
    let expected =
        case["expected"].as_object().filter(|e| !e.is_empty()).ok_or("it expects nothing")?;
    for (name, value) in expected {
        let got = answer.get(name).ok_or_else(|| format!("the call has no result {name}"))?;
        let truth: Vec<Option<f64>> = match value {
            Value::Array(list) => list.iter().map(Value::as_f64).collect(),
            one => vec![one.as_f64()],
        };
        let close = |(got, truth): (&Option<f64>, &Option<f64>)| match (got, truth) {
            (Some(g), Some(t)) => (g - t).abs() <= tolerance + relative * t.abs(),
            (None, None) => true,
            _ => false,
        };
        if got.len() != truth.len() || !got.iter().zip(&truth).all(close) {
            return Err(format!("{name} is {got:?}, not {truth:?}"));
        }
    }
    Ok(())
}

/// The inputs of a case; one that no call reads is a mistake in the data.
struct Inputs<'a> {
    case: &'a Value,
    used: std::cell::RefCell<Vec<&'static str>>,
}

impl Inputs<'_> {
    fn get(&self, key: &'static str) -> Option<&Value> {
        self.used.borrow_mut().push(key);
        self.case.get(key)
    }

    fn numbers(&self, key: &'static str) -> Outcome<Vec<f64>> {
        let list = self.get(key).and_then(Value::as_array).ok_or(format!("no list {key}"))?;
        list.iter().map(|v| v.as_f64().ok_or(format!("{key} holds {v}"))).collect()
    }

    fn whole_numbers(&self, key: &'static str) -> Outcome<Option<Vec<i64>>> {
        let Some(list) = self.get(key) else { return Ok(None) };
        let list = list.as_array().ok_or(format!("{key} is no list"))?;
        list.iter()
            .map(|v| v.as_i64().ok_or(format!("{key} holds {v}")))
            .collect::<Outcome<_>>()
            .map(Some)
    }

    fn number(&self, key: &'static str) -> Outcome<f64> {
        self.get(key).and_then(Value::as_f64).ok_or(format!("no number {key}"))
    }

    fn number_or(&self, key: &'static str, otherwise: f64) -> Outcome<f64> {
        if self.get(key).is_none() { Ok(otherwise) } else { self.number(key) }
    }

    fn count(&self, key: &'static str) -> Outcome<usize> {
        let count = self.get(key).and_then(Value::as_u64).ok_or(format!("no count {key}"))?;
        Ok(count as usize)
    }

    fn word(&self, key: &'static str) -> Outcome<&str> {
        self.get(key).and_then(Value::as_str).ok_or(format!("no text {key}"))
    }

    fn unit(&self) -> Outcome<Unit> {
        self.word("unit")?.parse().map_err(said)
    }

    fn all_used(&self) -> Outcome<()> {
        let used = self.used.borrow();
        let known = |key: &str| ABOUT.contains(&key) || used.contains(&key);
        match self.case.as_object().and_then(|case| case.keys().find(|key| !known(key))) {
            Some(key) => Err(format!("the input {key} is not read by this call")),
            None => Ok(()),
        }
    }
}

fn text<'a>(value: &'a Value, key: &str) -> Outcome<&'a str> {
    value[key].as_str().ok_or(format!("no text {key}"))
}

fn number(value: &Value, key: &str) -> Outcome<f64> {
    value[key].as_f64().ok_or(format!("no number {key}"))
}

fn said(error: glycemic_core::Error) -> String {
    error.to_string()
}

fn one(value: f64) -> Outcome<Answer> {
    Ok(Answer::from([("value".to_string(), vec![Some(value)])]))
}

fn list(values: Vec<Option<f64>>) -> Outcome<Answer> {
    Ok(Answer::from([("values".to_string(), values)]))
}

fn ends((low, high): (f64, f64)) -> Outcome<Answer> {
    named(&[("low", low), ("high", high)])
}

fn named(values: &[(&str, f64)]) -> Outcome<Answer> {
    Ok(values.iter().map(|(name, value)| (name.to_string(), vec![Some(*value)])).collect())
}

fn with_estimates(mut answer: Answer, estimates: &[(&str, &Estimate)]) -> Outcome<Answer> {
    for (name, e) in estimates {
        answer.insert(name.to_string(), vec![e.value]);
        answer.insert(format!("{name}_low"), vec![e.low]);
        answer.insert(format!("{name}_high"), vec![e.high]);
    }
    Ok(answer)
}

fn answer(call: &str, of: &Inputs<'_>) -> Outcome<Answer> {
    match call {
        "area.total" => {
            one(area::total(&of.numbers("minutes")?, &of.numbers("values")?).map_err(said)?)
        }
        "area.incremental" => incremental(of),
        "panel" => whole_panel(of),
        "panel.sufficiency" => enough_data(of),
        "panel.days_needed" => {
            let needed = panel::sufficiency::days_needed(
                of.number("sd")?,
                of.number("half_width")?,
                of.number("level")?,
            );
            let value = needed.map_err(said)?.map(|n| n as f64);
            Ok(Answer::from([("value".to_string(), vec![value])]))
        }
        "agreement.summary" => agreement_summary(of),
        "agreement.within" => agreement_within(of),
        "agreement.bland_altman" => limits_of_agreement(of),
        "binomial.clopper_pearson" => ends(
            binomial::clopper_pearson(of.count("count")?, of.count("n")?, of.number("level")?)
                .map_err(said)?,
        ),
        "binomial.clopper_pearson_lower" => named(&[(
            "low",
            binomial::clopper_pearson_lower(
                of.count("count")?,
                of.count("n")?,
                of.number("level")?,
            )
            .map_err(said)?,
        )]),
        "binomial.wilson" => ends(
            binomial::wilson(of.count("count")?, of.count("n")?, of.number("level")?)
                .map_err(said)?,
        ),
        "interpolate.linear" => interpolated(of, Method::Linear),
        "interpolate.pchip" => interpolated(of, Method::Pchip),
        "quantile.type7" => {
            let sorted = quantile::sorted(&of.numbers("values")?);
            list(of.numbers("p")?.iter().map(|&p| quantile::type7(&sorted, p)).collect())
        }
        "units.to_mg_dl" => one(of.unit()?.to_mg_dl(of.number("value")?)),
        "units.from_mg_dl" => one(of.unit()?.from_mg_dl(of.number("value")?)),
        "line.weighted" => {
            let line = fitted(of)?;
            named(&[
                ("intercept", line.intercept),
                ("slope", line.slope),
                ("residual_sd", line.residual_sd),
                ("intercept_se", line.cov_model[0][0].sqrt()),
                ("slope_se", line.cov_model[1][1].sqrt()),
            ])
        }
        "line.inverse" => inverse(of),
        "sen.slope" => {
            let e = sen::slope(&of.numbers("x")?, &of.numbers("y")?, of.number("level")?);
            with_estimates(Answer::new(), &[("slope", &e.map_err(said)?)])
        }
        "multiplicity.holm" => {
            let p = multiplicity::holm(&of.numbers("p")?).map_err(said)?;
            list(p.into_iter().map(Some).collect())
        }
        "multiplicity.benjamini_hochberg" => {
            let p = multiplicity::benjamini_hochberg(&of.numbers("p")?).map_err(said)?;
            list(p.into_iter().map(Some).collect())
        }
        "noncentral_t" => one(noncentral_t::noncentral_t_cdf(
            of.number("t")?,
            of.number("df")?,
            of.number("noncentrality")?,
        )
        .map_err(said)?),
        "permutation.signs" => {
            let p = permutation::signs(&of.numbers("differences")?, 999, 1).map_err(said)?;
            named(&[("two_sided", p.two_sided), ("greater", p.greater)])
        }
        "paired" => {
            let list = of.numbers("differences")?;
            let pair = |&with: &f64| Pair { with, without: 0.0, with_first: true };
            let pairs: Vec<Pair> = list.iter().map(pair).collect();
            let p = paired(&pairs, of.number("level")?).map_err(said)?;
            Ok(Answer::from([("p_value".to_string(), vec![p.p_value])]))
        }
        "plan.pairs" => one(aim(of)?.pairs().map_err(said)? as f64),
        "plan.each" => one(aim(of)?.each().map_err(said)? as f64),
        "plan.power_of_pairs" => one(aim(of)?.power_of_pairs(of.count("pairs")?).map_err(said)?),
        "t_quantile" => one(distribution::t_quantile(of.number("p")?, of.number("df")?)),
        "normal_quantile" => one(distribution::normal_quantile(of.number("p")?)),
        "beta_quantile" => {
            one(distribution::beta_quantile(of.number("p")?, of.number("a")?, of.number("b")?))
        }
        "f_quantile" => {
            one(distribution::f_quantile(of.number("p")?, of.number("df1")?, of.number("df2")?))
        }
        "chi2_quantile" => one(distribution::chi2_quantile(of.number("p")?, of.number("df")?)),
        "clock.offset_min" => {
            let clock = LocalClock::from_zone(of.word("zone")?).map_err(said)?;
            let instants = of.whole_numbers("utc_ms")?.ok_or("no utc_ms")?;
            list(instants.iter().map(|&ms| Some(f64::from(clock.offset_min(ms)))).collect())
        }
        "survival.step" => survival_calls::step(of),
        "survival.median" => survival_calls::median(of),
        _ => agreement_calls::answer(call, of),
    }
}

fn aim(of: &Inputs<'_>) -> Outcome<Aim> {
    let power = of.number_or("power", 0.8)?;
    Ok(Aim {
        effect: of.number("effect")?,
        sd: of.number("sd")?,
        power,
        level: of.number("level")?,
    })
}

fn incremental(of: &Inputs<'_>) -> Outcome<Answer> {
    let baseline = of.get("baseline").and_then(Value::as_f64);
    let rule: Rule = of.word("rule")?.parse().map_err(said)?;
    one(area::incremental(&of.numbers("minutes")?, &of.numbers("values")?, baseline, rule)
        .map_err(said)?)
}

/// Readings five minutes (or `step_min`) apart from a fixed instant on, in `zone` if there is one.
fn whole_panel(of: &Inputs<'_>) -> Outcome<Answer> {
    let glucose = of.numbers("glucose")?;
    let step_ms = (of.number_or("step_min", 5.0)? * 60_000.0) as i64;
    let times: Vec<i64> =
        (0..glucose.len() as i64).map(|i| 1_741_000_000_000 + i * step_ms).collect();
    let clock = match of.get("zone") {
        Some(_) => Some(LocalClock::from_zone(of.word("zone")?).map_err(said)?),
        None => None,
    };
    let trace = Builder::new(of.unit()?).clock(clock).build(&times, &glucose).map_err(said)?;
    let p = panel::panel(trace.view(), &[]);
    Ok(MEASURES.iter().map(|m| (m.name.to_string(), vec![p.get(m.id)])).collect())
}

/// So many readings five minutes apart at the start of a period.
fn enough_data(of: &Inputs<'_>) -> Outcome<Answer> {
    const START: i64 = 1_741_000_000_000;
    let times: Vec<i64> = (0..of.count("readings")? as i64).map(|i| START + i * 300_000).collect();
    let end = START + of.count("period_days")? as i64 * 86_400_000;
    let glucose = vec![100.0; times.len()];
    let trace = Builder::new(Unit::MgDl).build(&times, &glucose).map_err(said)?;
    let s = panel::sufficiency::sufficiency(trace.view(), Some((START, end))).map_err(said)?;
    named(&[
        ("active_pct", s.active_pct),
        ("enough_days", f64::from(u8::from(s.enough_days))),
        ("enough_active", f64::from(u8::from(s.enough_active))),
    ])
}

fn agreement_summary(of: &Inputs<'_>) -> Outcome<Answer> {
    let level = of.number_or("level", 0.95)?;
    let s =
        summary(&of.numbers("reference")?, &of.numbers("measured")?, None, level).map_err(said)?;
    let mut answer = named(&[("n", s.n as f64), ("median_ard_pct", s.median_ard_pct)])?;
    answer.insert("sd_mg_dl".into(), vec![s.sd_mg_dl]);
    with_estimates(
        answer,
        &[("mard_pct", &s.mard_pct), ("bias_mg_dl", &s.bias_mg_dl), ("bias_pct", &s.bias_pct)],
    )
}

fn agreement_within(of: &Inputs<'_>) -> Outcome<Answer> {
    let (reference, measured) = (of.numbers("reference")?, of.numbers("measured")?);
    let (mg_dl, pct) = (of.number("mg_dl")?, of.number("pct")?);
    let (switch, level) = (of.number("switch_mg_dl")?, of.number_or("level", 0.95)?);
    let s = within(&reference, &measured, mg_dl, pct, switch, None, level).map_err(said)?;
    named(&[
        ("count", s.count as f64),
        ("n", s.n as f64),
        ("fraction", s.fraction),
        ("low", s.low),
        ("high", s.high),
    ])
}

fn limits_of_agreement(of: &Inputs<'_>) -> Outcome<Answer> {
    let subject = of.whole_numbers("subject")?;
    let (reference, measured) = (of.numbers("reference")?, of.numbers("measured")?);
    let level = of.number_or("level", 0.95)?;
    let b = bland_altman(&reference, &measured, subject.as_deref(), level).map_err(said)?;
    let answer = named(&[("n", b.n as f64), ("sd", b.sd)])?;
    with_estimates(answer, &[("bias", &b.bias), ("lower", &b.lower), ("upper", &b.upper)])
}

fn interpolated(of: &Inputs<'_>, method: Method) -> Outcome<Answer> {
    let (x, y) = (of.numbers("minutes")?, of.numbers("values")?);
    list(on_minutes(&x, &y, &of.numbers("query")?, method).map_err(said)?)
}

fn fitted(of: &Inputs<'_>) -> Outcome<line::Line> {
    let (x, y) = (of.numbers("x")?, of.numbers("y")?);
    let weights = match of.get("w") {
        Some(_) => of.numbers("w")?,
        None => vec![1.0; x.len()],
    };
    line::weighted(&x, &y, &weights).map_err(said)
}

fn inverse(of: &Inputs<'_>) -> Outcome<Answer> {
    let line = fitted(of)?;
    let extra = match of.word("kind")? {
        "reading" => line.residual_sd * line.residual_sd,
        "mean" => 0.0,
        kind => return Err(format!("unknown kind {kind}")),
    };
    let at =
        line::inverse_reading(&line, of.number("y0")?, of.number("level")?, &line.cov_model, extra);
    Ok([("value", at.value), ("low", at.low), ("high", at.high)]
        .map(|(name, value)| (name.to_string(), vec![value]))
        .into())
}
