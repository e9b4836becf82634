//! Calls of the room `agreement` and of the numerics it stands on.

use super::{Answer, Inputs, Outcome, named, one, said, with_estimates};
use glycemic_core::agreement::grid::{Grid, error_grid};
use glycemic_core::agreement::limits::{Options, Scale, Truth, limits};
use glycemic_core::agreement::lines::MethodLine;
use glycemic_core::agreement::{concordance, deming, icc, passing_bablok, trend, weighted_deming};
use glycemic_core::stats::{share_difference, tolerance_factor};

pub(super) fn answer(call: &str, of: &Inputs<'_>) -> Outcome<Answer> {
    match call {
        "agreement.error_grid" => zones(of),
        "agreement.deming" => line(of, deming),
        "agreement.weighted_deming" => line(of, weighted_deming),
        "agreement.passing_bablok" => rank_line(of),
        "agreement.concordance" => concordant(of),
        "agreement.icc" => intraclass(of),
        "agreement.limits" => limits_by_choice(of),
        "agreement.trend" => trend_of(of),
        "share_difference.newcombe" => {
            let share = |count: usize, n: usize| (count as f64 / n as f64, n as f64);
            let first = share(of.count("count_1")?, of.count("n_1")?);
            let second = share(of.count("count_2")?, of.count("n_2")?);
            let (difference, low, high) =
                share_difference::newcombe(first, second, of.number("level")?).map_err(said)?;
            named(&[("difference", difference), ("low", low), ("high", high)])
        }
        "tolerance_factor.single_limit" => {
            one(tolerance_factor::single_limit(of.count("n")?, of.number("z")?, of.number("p")?))
        }
        "tolerance_factor.pair_of_limits" => one(tolerance_factor::pair_of_limits(
            of.count("n")?,
            of.number("content")?,
            of.number("p")?,
        )),
        "noncentral_t_quantile" => one(tolerance_factor::noncentral_t_quantile(
            of.number("p")?,
            of.number("df")?,
            of.number("delta")?,
        )),
        _ => Err("unknown call".to_string()),
    }
}

/// Zones as numbers, 0 for A to 4 for E.
fn zones(of: &Inputs<'_>) -> Outcome<Answer> {
    let grid: Grid = of.word("grid")?.parse().map_err(said)?;
    let (reference, measured) = (of.numbers("reference")?, of.numbers("measured")?);
    let found = error_grid(&reference, &measured, of.unit()?, grid).map_err(said)?;
    let numbers = found.zones.iter().map(|&zone| Some(f64::from(zone as u8))).collect();
    let counts = found.counts.iter().map(|&count| Some(count as f64)).collect();
    Ok(Answer::from([("zones".to_string(), numbers), ("counts".to_string(), counts)]))
}

type Fit = fn(&[f64], &[f64], f64, f64) -> Result<MethodLine, glycemic_core::Error>;

fn line(of: &Inputs<'_>, fit: Fit) -> Outcome<Answer> {
    let (x, y) = (of.numbers("x")?, of.numbers("y")?);
    let (ratio, level) = (of.number_or("variance_ratio", 1.0)?, of.number_or("level", 0.95)?);
    let found = fit(&x, &y, ratio, level).map_err(said)?;
    let mut answer = Answer::new();
    answer.insert("slope_se".into(), vec![found.slope_se]);
    answer.insert("intercept_se".into(), vec![found.intercept_se]);
    with_estimates(answer, &[("slope", &found.slope), ("intercept", &found.intercept)])
}

fn rank_line(of: &Inputs<'_>) -> Outcome<Answer> {
    let level = of.number_or("level", 0.95)?;
    let found = passing_bablok(&of.numbers("x")?, &of.numbers("y")?, level).map_err(said)?;
    let answer = named(&[("slopes", found.slopes as f64), ("shift", found.shift as f64)])?;
    let line = found.line;
    with_estimates(answer, &[("slope", &line.slope), ("intercept", &line.intercept)])
}

fn concordant(of: &Inputs<'_>) -> Outcome<Answer> {
    let level = of.number_or("level", 0.95)?;
    let found = concordance(&of.numbers("x")?, &of.numbers("y")?, level).map_err(said)?;
    let answer = [
        ("with_n_minus_1", found.with_n_minus_1),
        ("correlation", found.correlation),
        ("bias_correction", found.bias_correction),
        ("scale_shift", found.scale_shift),
        ("location_shift", found.location_shift),
    ];
    let answer = answer.map(|(name, value)| (name.to_string(), vec![value])).into();
    with_estimates(answer, &[("concordance", &found.concordance)])
}

fn intraclass(of: &Inputs<'_>) -> Outcome<Answer> {
    let level = of.number_or("level", 0.95)?;
    let found = icc(&of.numbers("ratings")?, of.count("raters")?, level).map_err(said)?;
    let answer = named(&[
        ("between", found.between),
        ("within", found.within),
        ("raters_square", found.raters_square),
        ("residual", found.residual),
    ])?;
    let forms = [
        ("icc_1_1", &found.icc_1_1),
        ("icc_2_1", &found.icc_2_1),
        ("icc_3_1", &found.icc_3_1),
        ("icc_1_k", &found.icc_1_k),
        ("icc_2_k", &found.icc_2_k),
        ("icc_3_k", &found.icc_3_k),
    ];
    with_estimates(answer, &forms)
}

fn limits_by_choice(of: &Inputs<'_>) -> Outcome<Answer> {
    let subject = of.whole_numbers("subject")?;
    let scale = match of.get("scale").and_then(|v| v.as_str()) {
        None | Some("difference") => Scale::Difference,
        Some("percent_of_mean") => Scale::PercentOfMean,
        Some("ratio") => Scale::Ratio,
        Some(other) => return Err(format!("unknown scale {other}")),
    };
    let truth = match of.get("truth").and_then(|v| v.as_str()) {
        None | Some("varies") => Truth::Varies,
        Some("constant") => Truth::Constant,
        Some(other) => return Err(format!("unknown truth {other}")),
    };
    let (z, level) = (of.number_or("z", 1.96)?, of.number_or("level", 0.95)?);
    let options =
        Options { subject: subject.as_deref(), scale, truth, z, level, ..Options::default() };
    let (reference, measured) = (of.numbers("reference")?, of.numbers("measured")?);
    let found = limits(&reference, &measured, &options).map_err(said)?;
    let mut answer = named(&[("n", found.n as f64), ("sd", found.sd)])?;
    for (name, pair) in [("pair_inner", found.pair_inner), ("pair_outer", found.pair_outer)] {
        answer.insert(format!("{name}_low"), vec![pair.map(|p| p.0)]);
        answer.insert(format!("{name}_high"), vec![pair.map(|p| p.1)]);
    }
    with_estimates(
        answer,
        &[("bias", &found.bias), ("lower", &found.lower), ("upper", &found.upper)],
    )
}

fn trend_of(of: &Inputs<'_>) -> Outcome<Answer> {
    let level = of.number_or("level", 0.95)?;
    let (reference, measured) = (of.numbers("reference")?, of.numbers("measured")?);
    let found = trend(&reference, &measured, None, level).map_err(said)?;
    let mut answer =
        named(&[("intercept", found.intercept), ("spread_intercept", found.spread_intercept)])?;
    answer.insert("slope_p".into(), vec![found.slope_p]);
    with_estimates(answer, &[("slope", &found.slope), ("spread_slope", &found.spread_slope)])
}
