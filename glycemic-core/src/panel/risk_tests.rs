use super::*;

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// The printed formula at the levels of a table worked from it, to half a unit of its last place.
#[test]
fn risk_at_known_levels() {
    for (mg_dl, f, r, half) in [
        (20.0, -3.1629, 100.04, 5e-3),
        (50.0, -1.5000, 22.50, 5e-3),
        (54.0, -1.3587, 18.461, 5e-4),
        (70.0, -0.8806, 7.755, 5e-4),
        (112.5, -0.0003, 0.000, 5e-4),
        (180.0, 0.8792, 7.729, 5e-4),
        (250.0, 1.4979, 22.44, 5e-3),
        (400.0, 2.3884, 57.05, 5e-3),
        (600.0, 3.1615, 99.95, 5e-3),
    ] {
        let got = risk(mg_dl, RiskConstants::MgDl);
        near(got, f, 5e-5);
        near(10.0 * got * got, r, half);
    }
}

/// What the scale was made for (Kovatchev 1997): symmetric at 20 and 600, and at 70 and 180. The
/// printed constants are rounded, so to 0.2 %.
#[test]
fn risk_is_symmetric_as_it_was_made() {
    for constants in [RiskConstants::MgDl, RiskConstants::MmolL] {
        let f = |mg_dl: f64| risk(mg_dl, constants);
        near(f(20.0), -f64::sqrt(10.0), 6e-3);
        near(f(600.0), f64::sqrt(10.0), 6e-3);
        near(f(70.0) + f(180.0), 0.0, 6e-3);
        assert!(f(112.0) < 0.0 && f(113.0) > 0.0);
    }
}

#[test]
fn levels_where_a_formula_has_no_value() {
    for constants in [RiskConstants::MgDl, RiskConstants::MmolL] {
        let unit = if constants == RiskConstants::MgDl { 1.0 } else { MG_DL_PER_MMOL_L };
        assert_eq!(risk(0.01, constants), risk(unit, constants));
        assert!(risk(0.01, constants) < risk(1.01 * unit, constants));
    }
    for mg_dl in [0.01, 1.0, MG_DL_PER_MMOL_L, 18.1] {
        assert_eq!(grade(mg_dl), 50.0);
    }
    for mg_dl in [0.01, 1.0, 2000.0] {
        assert!(terms(mg_dl).iter().all(|t| t.is_finite() && *t >= 0.0));
    }
}

/// Worked from the formula with the factor 18.0156, to half a unit of the last place.
#[test]
fn grade_at_known_levels() {
    for (mg_dl, want, half) in [
        (20.0, 50.0, 0.0),
        (40.0, 38.354, 5e-4),
        (54.0, 11.114, 5e-4),
        (70.0, 2.056, 5e-4),
        (100.0, 0.4292, 5e-5),
        (140.0, 5.107, 5e-4),
        (180.0, 10.86, 5e-3),
        (250.0, 20.16, 5e-3),
        (600.0, 49.87, 5e-3),
    ] {
        near(grade(mg_dl), want, half);
    }
    // Least, and 0, at 10^(10^-0.16) mmol/L.
    let least = libm::pow(10.0, libm::pow(10.0, -0.16)) * MG_DL_PER_MMOL_L;
    near(least, 88.61, 5e-3);
    near(grade(least), 0.0, 1e-20);
    assert!(grade(88.0) > grade(88.5) && grade(89.0) < grade(90.0));
}

#[test]
fn m_and_control_by_hand() {
    assert_eq!(m_term(1200.0, 120.0), 1000.0);
    near(m_term(80.0, 160.0), m_term(320.0, 160.0), 1e-12);
    assert_eq!(hypo_term(50.0), 30.0);
    assert_eq!(hyper_term(141.0), 1.0 / 30.0);
    near(hyper_term(164.0), libm::exp(1.1 * libm::log(24.0)) / 30.0, 1e-13);
    assert_eq!((hypo_term(80.0), hypo_term(140.0), hyper_term(80.0)), (0.0, 0.0, 0.0));
}

/// Over the borders of blocks as well, a code has the weight of its level.
#[test]
fn codes_have_the_weights_of_their_levels() {
    for unit in [Unit::MgDl, Unit::MmolL] {
        for (first, last) in [(1, 1), (63, 65), (100, 400), (1, grid::max_code(unit))] {
            let counts: Vec<u64> = (first..=last).map(|code| u64::from(code % 3)).collect();
            let codes = (first..=last).zip(&counts);
            let levels: Vec<(f64, u64)> =
                codes.map(|(code, &n)| (grid::value_of(code, unit), n)).collect();
            assert_eq!(sum_of_codes(unit, usize::from(first), &counts), sum_of_levels(&levels));
        }
        assert_eq!(sum_of_codes(unit, 70, &[]), [0.0; 8]);
    }
}
