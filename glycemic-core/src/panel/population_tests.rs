use super::*;
use crate::Unit;
use crate::panel::panel;
use crate::series::Builder;
use crate::series::Trace;

fn trace(unit: Unit, glucose: &[f64]) -> Trace {
    let times: Vec<i64> = (0..glucose.len() as i64).map(|i| 1_741_000_000_000 + i).collect();
    Builder::new(unit).build(&times, glucose).unwrap()
}

/// Value, target and whether it is met, by measure.
fn row(table: &Table, measure: &str) -> (Option<f64>, Option<f64>, Option<f64>) {
    let Items::Text(names) = &table.column("measure").unwrap().items else { panic!("no text") };
    let i = names.iter().position(|n| n == measure).unwrap();
    let at = |column: &str| table.numbers(column).unwrap()[i];
    (at("value"), at("target"), at("met"))
}

/// The consensus table: in range, below 70, below 54, above 180, above 250.
#[test]
fn the_consensus_table() {
    let values = |p| targets(p).iter().map(|t| t.value).collect::<Vec<_>>();
    let adults = [70.0, 4.0, 1.0, 25.0, 5.0, 36.0].map(Some).to_vec();
    assert_eq!(values(Population::Type1), adults);
    assert_eq!(values(Population::Type2), adults);
    let older = vec![Some(50.0), Some(1.0), None, Some(50.0), Some(10.0), Some(36.0)];
    assert_eq!(values(Population::Older), older);
    let pregnancy = vec![Some(70.0), Some(4.0), Some(1.0), Some(25.0), None, None];
    assert_eq!(values(Population::Pregnancy), pregnancy);
    assert_eq!(values(Population::WithoutDiabetes), vec![None; 6]);
    for population in Population::ALL {
        assert_eq!(population.name().parse(), Ok(population));
        for t in targets(population) {
            assert_eq!(t.value.is_none(), t.bound == Bound::NoneSet);
            assert!(!t.source.is_empty() && !t.status.is_empty());
        }
    }
    assert_eq!("type 3".parse::<Population>().unwrap_err().code(), "unknown_choice");
}

/// 100 readings, 70 of them in range and 4 low: "over 70 %" and "under 4 %" are both missed by
/// nothing; one reading more or less meets them.
#[test]
fn a_target_itself_does_not_meet_it() {
    let table = |low: usize, inside: usize| {
        let mut glucose = vec![60.0; low];
        glucose.extend(vec![100.0; inside]);
        glucose.extend(vec![200.0; 100 - low - inside]);
        let trace = trace(Unit::MgDl, &glucose);
        assess(&panel(trace.view(), &[]), Some(trace.view()), Population::Type1).unwrap()
    };
    let at = table(4, 70);
    assert_eq!(row(&at, "in_range_pct"), (Some(70.0), Some(70.0), Some(0.0)));
    assert_eq!(row(&at, "below_70_pct"), (Some(4.0), Some(4.0), Some(0.0)));
    let inside = table(3, 71);
    assert_eq!(row(&inside, "in_range_pct").2, Some(1.0));
    assert_eq!(row(&inside, "below_70_pct").2, Some(1.0));
    assert_eq!(row(&inside, "above_180_pct"), (Some(26.0), Some(25.0), Some(0.0)));
    assert!(Bound::AtMost.met(36.0, 36.0).unwrap() && !Bound::AtMost.met(36.1, 36.0).unwrap());
}

/// Both limits count as in range, in the unit that was measured.
#[test]
fn ranges_of_pregnancy() {
    for (unit, glucose) in
        [(Unit::MgDl, [62.0, 63.0, 140.0, 141.0]), (Unit::MmolL, [3.4, 3.5, 7.8, 7.9])]
    {
        let trace = trace(unit, &glucose);
        let p = panel(trace.view(), &[]);
        let table = assess(&p, Some(trace.view()), Population::Pregnancy).unwrap();
        assert_eq!(row(&table, "in_63_to_140_pct"), (Some(50.0), Some(70.0), Some(0.0)));
        assert_eq!(row(&table, "below_63_pct"), (Some(25.0), Some(4.0), Some(0.0)));
        assert_eq!(row(&table, "above_140_pct"), (Some(25.0), Some(25.0), Some(0.0)));
        assert_eq!(row(&table, "very_low_pct"), (Some(0.0), Some(1.0), Some(1.0)));
        let without = assess(&p, None, Population::Pregnancy).unwrap();
        assert_eq!(row(&without, "below_63_pct"), (None, Some(4.0), None));
    }
    // 62.9 mg/dL lies on no grid; it is below 63.
    let trace = trace(Unit::MgDl, &[62.9, 100.0]);
    let table = assess(&panel(trace.view(), &[]), Some(trace.view()), Population::Pregnancy);
    assert_eq!(row(&table.unwrap(), "below_63_pct").0, Some(50.0));
}

#[test]
fn where_the_source_sets_none_the_row_says_so() {
    let trace = trace(Unit::MgDl, &[100.0, 120.0]);
    let p = panel(trace.view(), &[]);
    let table = assess(&p, Some(trace.view()), Population::WithoutDiabetes).unwrap();
    assert_eq!(row(&table, "in_range_pct"), (Some(100.0), None, None));
    let Items::Text(bounds) = &table.column("bound").unwrap().items else { panic!("no text") };
    assert!(bounds.iter().all(|b| b == "none_set"));
}
