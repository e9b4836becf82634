"""Agreement of paired numbers: what Python adds to the core, and that nothing is lost on the way.

Figures are worked by hand in the comments beside them, or by SciPy.
"""

import inspect
import math

import numpy as np
import pytest
from scipy import stats

import glycemic as gly

agreement = gly.agreement
R = [60.0, 80.0, 95.0, 110.0, 140.0, 180.0, 230.0, 300.0]
M = [66.0, 75.0, 99.0, 121.0, 133.0, 190.0, 215.0, 330.0]


def refused(call, code, argument=None, index=None):
    with pytest.raises(gly.GlycemicError) as caught:
        call()
    error = caught.value
    assert (error.code, error.argument, error.index) == (code, argument, index), error


def wilson(share, n, level):
    """Score interval of a share."""
    z = stats.norm.ppf(0.5 + level / 2)
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return (share + z * z / (2 * n) - half) / (1 + z * z / n), (share + z * z / (2 * n) + half) / (1 + z * z / n)


def wraps():
    import pandas as pd
    import polars as pl
    import pyarrow as pa

    return [list, tuple, np.array, pd.Series, pl.Series, pa.array]


def test_every_call_and_class_carries_the_caution():
    calls = [getattr(agreement, name) for name in dir(agreement) if not name.startswith("_")]
    calls = [call for call in calls if callable(call)]
    assert len(calls) > 20
    classes = [gly.ErrorGrid, gly.RiskGrid, gly.MethodLine, gly.PassingBablok, gly.Concordance, gly.Intraclass]
    classes += [gly.PairedPrecision, gly.ExpectedDifference, gly.Limits, gly.Trend]
    methods = [gly.ErrorGrid.share_up_to, gly.ExpectedDifference.share_at_least, gly.Trend.at]
    for item in calls + classes + methods:
        doc = " ".join(inspect.getdoc(item).split())
        assert "education, coaching and research; not a medical device" in doc, item
        if item not in classes:
            assert "Examples" in doc and ("Source:" in doc or "no source" in doc), item


@pytest.mark.parametrize("wrap", wraps(), ids=lambda w: f"{w.__module__}.{w.__name__}")
def test_any_array_will_do(wrap):
    r, m = wrap(R), wrap(M)
    two = (agreement.error_grid, agreement.limits)
    for call in (*two, agreement.deming, agreement.passing_bablok, agreement.concordance):
        assert call(r, m) == call(R, M)
    for call in (agreement.trend, agreement.icgm, agreement.accuracy_table, agreement.concurrence):
        assert call(r, m) == call(R, M)


STANDARDS = ["iso15197", "icgm", "fda_self_monitoring", "fda_point_of_care"]


@pytest.mark.parametrize("call", ["error_grid", "limits", "trend", "accuracy_table", "concurrence", *STANDARDS])
def test_nan_and_lengths_are_refused(call):
    call = getattr(agreement, call)
    refused(lambda: call([100, 120, np.nan, 90], [100, 120, 100, 90]), "not_finite", "reference", 2)
    refused(lambda: call([100, 120, 100, 90], [100, np.nan, 100, 90]), "not_finite", "measured", 1)
    refused(lambda: call([100, 120], [100]), "length_mismatch", "measured")


@pytest.mark.parametrize("call", ["deming", "weighted_deming", "passing_bablok", "concordance"])
def test_lines_refuse_nan(call):
    call = getattr(agreement, call)
    refused(lambda: call([1, 2, 3, 4, np.nan], [1, 2, 3, 4, 5]), "not_finite", "x", 4)
    refused(lambda: call([1, 2, 3, 4, 5], [np.nan, 2, 3, 4, 5]), "not_finite", "y", 0)
    refused(lambda: call([1, 2, 3, 4, 5], [1, 2, 3, 4, 5], level=1.5), "out_of_range", "level")


def test_error_grid():
    # 20 % off is still A, 30 % is B, 50 for 210 is E.
    g = agreement.error_grid([100, 100, 210], [120, 130, 50])
    assert g.zones == ["A", "B", "E"] and g.n == 3 and g.grid == "clarke" and "memory" in g.status
    assert g.counts == {"A": 1, "B": 1, "C": 0, "D": 0, "E": 1}
    assert g.percent["A"] == pytest.approx(100 / 3) and sum(g.percent.values()) == pytest.approx(100)
    r, m = np.array([[100, 100, 210], [121, 130, 50]]) / 18.0156
    in_mmol = agreement.error_grid(r, m, unit="mmol/L")
    assert in_mmol.zones == ["B", "B", "E"]
    share = g.share_up_to("B", level=0.9)
    exact = stats.binomtest(2, 3).proportion_ci(0.9, method="exact")
    assert (share.count, share.n, share.level) == (2, 3, 0.9)
    assert (share.low, share.high) == pytest.approx((exact.low, exact.high), abs=1e-9)
    assert g.share_up_to().count == 2 and g.share_up_to("E").fraction == 1.0
    # One made by hand that holds nothing.
    refused(lambda: gly.ErrorGrid("clarke", 0, [], {}, {}, "").share_up_to("A"), "too_few_values")
    refused(lambda: g.share_up_to("F"), "unknown_choice", "zone")
    refused(lambda: agreement.error_grid([100], [100], grid="round"), "unknown_choice", "grid")
    refused(lambda: agreement.error_grid([0], [100]), "out_of_range", "reference", 0)


@pytest.mark.parametrize("grid, extent", [("clarke", 400), ("consensus_type1", 550), ("consensus_type2", 550)])
def test_polygons_are_what_is_counted(grid, extent):
    from matplotlib.path import Path

    table = agreement.grid_polygons(grid)
    corners = np.column_stack([table["reference_mg_dl"], table["measured_mg_dl"]])
    assert corners.min() == 0 and corners.max() == extent
    zone = table["zone"]
    area, found = 0.0, {}
    points = np.random.default_rng(5).uniform(1, extent - 1, (500, 2))
    for k in range(table["polygon"].max() + 1):
        rows = table["polygon"] == k
        assert table["vertex"][rows].tolist() == list(range(rows.sum()))
        own = corners[rows]
        x, y = own.T
        area += 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
        for i in np.flatnonzero(Path(np.vstack([own, own[:1]])).contains_points(points)):
            found[i] = zone[rows][0]
    assert area == pytest.approx(extent**2)
    counted = agreement.error_grid(*points.T, grid=grid).zones
    assert [found[i] for i in range(500)] == counted
    assert agreement.grid_polygons(grid, 600)["measured_mg_dl"].max() == 600
    refused(lambda: agreement.grid_polygons(grid, 200), "out_of_range", "extent_mg_dl")


def test_risk_grid():
    nodes = [50, 250]
    # Half way along one edge of the cell: half of 2. 600 lies outside.
    g = agreement.risk_grid([50, 150], [150, 600], nodes, nodes, [[0, 2], [-2, 0]])
    assert g.risks == [1.0, None] and g.bands == ["slight_lower", None] and (g.n, g.outside, g.mean_size) == (1, 1, 1.0)
    assert g.table["count"].tolist() == [0, 1, 0, 0, 0, 0, 0, 0] == g.table["above"].tolist()
    assert math.isnan(g.table["upper_risk"][-1])
    assert agreement.risk_grid([60], [240], nodes, nodes, np.array([[0, 2], [-2, 0]]), lookup="cell").risks == [2.0]
    refused(lambda: agreement.risk_grid([60], [60], nodes, nodes, [0, 2, -2, 0]), "shape", "risk")
    refused(lambda: agreement.risk_grid([60], [60], nodes, nodes, [[0], [1, 2]]), "shape", "risk")
    refused(lambda: agreement.risk_grid([60], [60], nodes, nodes, [[0, 1, 2], [1, 2, 3]]), "length_mismatch", "risk")
    refused(lambda: agreement.risk_grid([60], [60], nodes, nodes, [[0, 2], [-2, 5]]), "out_of_range", "risk", 3)


def test_lines_are_estimates():
    line = agreement.deming(R, M, level=0.9)
    assert line.slope.low < line.slope.value < line.slope.high and line.slope.level == 0.9 and line.n == 8
    half = stats.t.ppf(0.95, 6) * line.slope_se
    assert line.slope.high - line.slope.low == pytest.approx(2 * half, rel=1e-8)
    # Orthogonal fit: the first axis of the cloud.
    cov = np.cov(R, M)
    axis = np.linalg.eigh(cov)[1][:, 1]
    assert line.slope.value == pytest.approx(axis[1] / axis[0])
    # The inverse ratio with the two exchanged is the same line.
    one, other = agreement.deming(R, M, variance_ratio=4), agreement.deming(M, R, variance_ratio=0.25)
    assert one.slope.value == pytest.approx(1 / other.slope.value)
    flat = agreement.deming([100] * 5, [100] * 5)
    assert flat.slope.value is None and flat.slope.reason and flat.slope_se is None
    p = agreement.passing_bablok(R, M)
    assert p.slope.low <= p.slope.value <= p.slope.high and p.slopes == 28
    assert p.linearity_p == pytest.approx(stats.kstwobign.sf(p.cusum), abs=1e-9)
    refused(lambda: agreement.weighted_deming([1, 2, 3, 0], [1, 2, 3, 4]), "out_of_range", "x", 3)
    refused(lambda: agreement.passing_bablok([1, 2], [1, 2]), "too_few_values")


def test_correlations():
    c = agreement.concordance(R, M)
    r, m = np.array(R), np.array(M)
    truth = 2 * np.cov(r, m, bias=True)[0, 1] / (r.var() + m.var() + (r.mean() - m.mean()) ** 2)
    assert c.concordance.value == pytest.approx(truth) and c.correlation == pytest.approx(np.corrcoef(r, m)[0, 1])
    assert c.concordance.value == pytest.approx(c.correlation * c.bias_correction)
    i = agreement.icc(np.column_stack([r, m]))
    assert (i.targets, i.raters) == (8, 2)
    assert i == agreement.icc(list(zip(R, M)))
    assert i.icc_2_1.low < i.icc_2_1.value < i.icc_2_k.value
    # Spearman and Brown: the mean of two raters from one.
    assert i.icc_3_k.value == pytest.approx(2 * i.icc_3_1.value / (1 + i.icc_3_1.value))
    import pandas as pd
    import polars as pl

    for frame in (pd.DataFrame, pl.DataFrame):
        assert agreement.icc(frame({"r": R, "m": M})) == i
    refused(lambda: agreement.icc(R), "shape", "ratings")
    refused(lambda: agreement.icc([[1, 2], [3, 4], [5, np.nan]]), "not_finite", "ratings", 5)


def test_limits():
    d = np.array(M) - R
    found = agreement.limits(R, M)
    assert found.upper.value == pytest.approx(d.mean() + 1.96 * d.std(ddof=1)) and found.sd_within is None
    # Exact: the noncentral t.
    n, sd = 8, d.std(ddof=1)
    t = stats.nct.ppf(0.975, n - 1, 1.96 * math.sqrt(n)) / math.sqrt(n)
    assert found.upper.high == pytest.approx(d.mean() + t * sd, rel=1e-6)
    assert found.pair_outer[0] < found.lower.value < found.pair_inner[0] < found.pair_inner[1]
    subject = ["a", "a", "b", "b", "c", "c", "d", "d"]
    repeated = agreement.limits(R, M, subject)
    assert repeated.subjects == 4 and repeated.sd_within > 0 and repeated.pair_inner is None
    assert repeated.upper.value == pytest.approx(agreement.bland_altman(R, M, subject).upper)
    assert agreement.limits(R, M, subject, truth="constant").sd != repeated.sd
    ratio = agreement.limits(R, M, scale="ratio")
    assert ratio.bias.value == pytest.approx(stats.gmean(np.array(M) / R))
    percent = agreement.limits(R, M, scale="percent_of_mean")
    assert percent.bias.value == pytest.approx(np.mean(200 * d / (np.array(M) + R)))
    drawn = [agreement.limits(R, M, interval="bootstrap", resamples=300, seed=s) for s in (1, 1, 2)]
    assert drawn[0] == drawn[1] != drawn[2] and drawn[0].upper.value == found.upper.value
    few = agreement.limits(R, M, subject, interval="bootstrap")
    assert few.upper.low is None and few.upper.reason_code == "too_few_clusters"
    for name in ("scale", "truth", "interval"):
        refused(lambda: agreement.limits(R, M, **{name: "odd"}), "unknown_choice", name)
    refused(lambda: agreement.limits(R, M, subject[:3]), "length_mismatch", "subject")


def test_trend():
    t = agreement.trend(R, M)
    line = stats.linregress(0.5 * (np.array(R) + M), np.array(M) - R)
    assert (t.slope.value, t.slope_p) == pytest.approx((line.slope, line.pvalue))
    bias, low, high = t.at(150)
    assert bias == pytest.approx(line.intercept + 150 * line.slope)
    mean = 0.5 * (np.array(R) + M)
    spread = stats.linregress(mean, np.abs(np.array(M) - R - line.intercept - line.slope * mean))
    assert (t.spread_slope.value, t.spread_slope_p) == pytest.approx((spread.slope, spread.pvalue))
    size = t.spread_intercept + 150 * t.spread_slope.value
    assert high - bias == pytest.approx(1.96 * math.sqrt(math.pi / 2) * size) == pytest.approx(bias - low)
    assert agreement.trend([100] * 5, [101] * 5).at(100) is None
    assert agreement.trend(R, M, cluster=["a"] * 4 + ["b"] * 4).slope.reason_code == "too_few_clusters"


def test_rows_of_standards():
    t = agreement.iso15197([100] * 200, [115] * 200)
    assert t["verdict"].tolist() == ["numerical_limits_met", "too_few"] and t["pairs_more"].tolist() == [0, 400]
    exact = stats.binomtest(200, 200).proportion_ci(0.95, method="exact")
    assert t["percent_low"][0] == pytest.approx(100 * exact.low)
    # 60 against 76: over 15 mg/dL; 100 against 120: 20 %, which the older edition allows.
    old, new = (agreement.iso15197([60, 100], [76, 120], edition=year) for year in (2003, 2013))
    assert (old["count"].tolist(), new["count"][0]) == ([1], 0)
    refused(lambda: agreement.iso15197(R, M, edition=2015), "unknown_choice", "edition")
    assert set(agreement.fda_point_of_care(R, M)["status"]) <= {"confirmed", "unconfirmed"}
    care, own = agreement.fda_point_of_care(R, M), agreement.fda_self_monitoring(R, M)
    assert care["limit_pct"].tolist() != own["limit_pct"].tolist()
    t = agreement.icgm([120] * 100, [120] * 100)
    verdict = dict(zip(t["item"], t["verdict"]))
    assert (verdict["B"], verdict["E"]) == ("numerical_limits_met", "too_few") and "J" not in verdict
    at = t["item"].tolist().index("B")
    assert t["kind"][at] == "bound_above"
    # 100 of 100: the one-sided lower bound is .05 ** (1 / 100), whatever the level of the interval.
    for level in (0.9, 0.99):
        bound = agreement.icgm([120] * 100, [120] * 100, level=level)["bound_pct"][at]
        assert bound == pytest.approx(100 * 0.05 ** (1 / 100))
    # Falling by 3 and shown as rising by 2, once: item J alone.
    with_rates = agreement.icgm([120] * 3, [120] * 3, [-3, 3, 0], [2, 2, 0])
    offended = dict(zip(with_rates["item"], with_rates["count"]))
    assert (offended["J"], offended["K"]) == (1, 0)
    refused(lambda: agreement.icgm(R, M, reference_rate=[0] * 8), "missing", "measured_rate")
    refused(lambda: agreement.icgm(R, M, measured_rate=[0] * 8), "missing", "reference_rate")
    # Pairs of one person say less.
    wide = agreement.iso15197(R, M, cluster=[1, 1, 1, 1, 2, 2, 2, 2])
    assert wide["n_effective"][0] <= 8


def test_accuracy_table():
    t = agreement.accuracy_table(R, M, rules=[(15, 15, 100)], bands="consensus", groups=["day 1"] * 4 + ["day 2"] * 4)
    assert len(t) == 18 and t["group"].tolist()[:6] == [None] * 6
    assert t["band_mg_dl"].tolist()[:6] == ["all", "<54", "54-<70", "70-180", ">180-250", ">250"]
    assert t["n"].tolist()[:6] == [8, 0, 1, 5, 1, 1]
    assert t["mard_pct"][0] == pytest.approx(np.mean(100 * np.abs(np.array(M) - R) / R))
    share = agreement.within(R, M)
    assert t["within_1_pct"][0] == 100 * share.fraction and t["within_1_low_pct"][0] == 100 * share.low
    assert math.isnan(t["mard_pct"][1]) and "within_2_pct" not in t
    assert agreement.accuracy_table(R, M, bands=[100, 200])["n"].tolist() == [8, 3, 3, 2]
    # 180 was read as 190.
    assert agreement.accuracy_table(R, M, bands=[100, 185])["n"].tolist() == [8, 3, 3, 2]
    assert agreement.accuracy_table(R, M, bands=[100, 185], band_by="measured")["n"].tolist() == [8, 3, 2, 3]
    # 15 mg/dL off, which is more than 5 %: only the measured value lies below the switch.
    for by, share in (("reference", 0), ("measured", 100)):
        assert agreement.accuracy_table([104], [89], rules=[(15, 5, 100)], switch_by=by)["within_1_pct"][0] == share
    assert "within_4_pct" in agreement.accuracy_table(R, M)
    refused(lambda: agreement.accuracy_table(R, M, rules=[(15, 15)]), "shape", "rules", 0)
    refused(lambda: agreement.accuracy_table(R, M, bands="wide"), "unknown_choice", "bands")
    refused(lambda: agreement.accuracy_table(R, M, bands=[2, 1]), "out_of_range", "cuts", 1)
    refused(lambda: agreement.accuracy_table(R, M, band_by="both"), "unknown_choice", "band_by")
    refused(lambda: agreement.accuracy_table(R, M, groups=["a"] * 7 + [None]), "missing", "groups", 7)
    refused(lambda: agreement.accuracy_table(R, M, groups=["a"] * 7), "length_mismatch", "groups")


def test_concurrence():
    t = agreement.concurrence([60, 61, 130], [61, 75, 110], cuts=[60, 80, 120])
    frame = t.to_pandas()
    cell = frame.set_index(["measured_band", "reference_band"])["count"]
    # 61 for 60 and 75 for 61 stand in one row, 110 for 130 in the next.
    assert cell[">60-80", "<=60"] == cell[">60-80", ">60-80"] == cell[">80-120", ">120"] == 1
    assert frame["count"].sum() == 3
    assert frame["row_pct"].dropna().groupby(frame["measured_band"]).sum().round(9).eq(100).all()
    assert frame["count"][frame["same_band"]].sum() == 1
    shown = agreement.concurrence([50, 100], [40, 100], shown=["below", "number"], cuts=[60])
    assert shown["measured_band"][0] == "below range" and shown["count"].tolist()[:2] == [1, 0]
    refused(lambda: agreement.concurrence([50, 100], [40, 100], shown=["below", "low"]), "unknown_choice", "shown", 1)
    assert len(agreement.concurrence(R, M)) == 13 * 11


def test_against_published():
    cells = {
        "n": [2000, 2000],
        "percent": [93.0, 50.0],
        "mg_dl": [20, 20],
        "pct": [20, 20],
        "switch_mg_dl": [100, 100],
        "low_mg_dl": [None, 70],
        "high_mg_dl": [None, 180],
        "high_inside": [True, False],
    }
    t = agreement.against_published([100] * 200, [100] * 200, cells, margin_pct=5)
    assert t["band_mg_dl"].tolist() == ["all", "70-<180"] and t["n"].tolist() == [200, 200]
    assert t["difference_pct"].tolist() == pytest.approx([7.0, 50.0])
    # Newcombe 1998, method 10, at 90 %: two one-sided tests at 5 % each.
    for level, name in ((0.9, "equivalence"), (0.95, "difference")):
        (l1, u1), (l2, u2) = wilson(1.0, 200, level), wilson(0.93, 2000, level)
        low, high = 0.07 - math.hypot(1 - l1, u2 - 0.93), 0.07 + math.hypot(u1 - 1, 0.93 - l2)
        assert t[f"{name}_low_pct"][0] == pytest.approx(100 * low)
        assert t[f"{name}_high_pct"][0] == pytest.approx(100 * high)
    # The lower end at 90 % is 5.3, beyond the margin of 5.
    assert t["verdict"].tolist() == ["different_by_more", "different_by_more"]
    fewer = agreement.against_published([100] * 20, [100] * 20, cells, margin_pct=5)
    assert fewer["verdict"].tolist() == ["cannot_tell", "different_by_more"]
    assert (t["difference_low_pct"] < t["equivalence_low_pct"]).all()
    wide = agreement.against_published([100] * 200, [100] * 200, cells, margin_pct=20)
    assert wide["verdict"][0] == "equivalent"
    import polars as pl

    assert agreement.against_published([100] * 200, [100] * 200, pl.DataFrame(cells), margin_pct=20) == wide
    none = agreement.against_published([300], [300], cells, margin_pct=5)
    assert none["n"].tolist() == [1, 0] and math.isnan(none["percent"][1]) and none["reason"][1]
    few = {key: value for key, value in cells.items() if key != "pct"}
    refused(lambda: agreement.against_published(R, M, {**cells, "n": [2000, 0.5]}, 5), "out_of_range", "n", 1)
    refused(lambda: agreement.against_published(R, M, {**cells, "pct": [20]}, 5), "length_mismatch", "cells")
    with pytest.raises(gly.GlycemicError) as caught:
        agreement.against_published(R, M, few, 5)
    assert caught.value.column == "pct"


def test_two_devices():
    p = agreement.paired_precision(R, M)
    a, b = np.array(R), np.array(M)
    assert p.pard_pct.value == pytest.approx(np.mean(200 * np.abs(a - b) / (a + b)))
    assert p.median_pct == pytest.approx(np.median(200 * np.abs(a - b) / (a + b)))
    assert p.mean_cv_pct == pytest.approx(p.pard_pct.value / math.sqrt(2))
    assert p.pooled_cv_pct == pytest.approx(100 * math.sqrt(np.mean((a - b) ** 2) / 2) / np.mean([a, b]))
    assert p.offset_pct.value == pytest.approx(np.mean(200 * (b - a) / (a + b)))
    d = agreement.expected_difference((15, 0.95), (15, 0.95))
    sd = 15 / stats.norm.ppf(0.975)
    assert d.sd_first == pytest.approx(sd) and d.sd == pytest.approx(sd * math.sqrt(2))
    assert d.estimable and d.reason is None
    assert d.share_at_least(15) == pytest.approx(2 * stats.norm.sf(15, scale=d.sd))
    assert d.share_at_least(d.size_95) == pytest.approx(0.05) and d.share_at_least(d.median_size) == pytest.approx(0.5)
    biased = agreement.expected_difference((15, 0.9, 4), (15, 0.9, -2))
    assert biased.mean == 6.0 and biased.sd_first < biased.sd_second
    together = agreement.expected_difference((15, 0.95), (15, 0.95), correlation=0.5)
    assert together.sd == pytest.approx(sd)
    cannot = agreement.expected_difference((15, 0.95, 16), (15, 0.95))
    assert not cannot.estimable and cannot.sd is None and cannot.reason_code == "bias_too_large" and cannot.reason
    assert cannot.share_at_least(5) is None
    refused(lambda: d.share_at_least(-1), "out_of_range", "size")
    refused(lambda: agreement.expected_difference((15,), (15, 0.95)), "shape", "first")
    refused(lambda: agreement.expected_difference((0, 0.95), (15, 0.95)), "out_of_range", "within")
