"""Simulated people against general-purpose reference libraries.

The meal model is written out once more, plainly, from Dalla Man C, Rizza RA, Cobelli C,
IEEE Trans Biomed Eng 2007; 54: 1740-1749, and integrated by scipy's LSODA.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import glycemic as gly

# The paper's normal adult and printed basal values.
P = dict(
    VG=1.88, k1=0.065, k2=0.079, VI=0.05, m1=0.190, m2=0.484, m4=0.194, m5=0.0304, m6=0.6471,
    kmax=0.0558, kmin=0.0080, kabs=0.057, kgri=0.0558, f=0.90, b=0.82, d=0.010, kp1=2.70,
    kp2=0.0021, kp3=0.009, kp4=0.0618, ki=0.0079, Fcns=1.0, Vm0=2.50, Vmx=0.047, Km0=225.59,
    p2U=0.0331, K=2.30, alpha=0.050, beta=0.11, gamma=0.5, ke1=0.0005, ke2=339.0,
    BW=78.0, Gb=95.0, Ib=25.0, Sb=1.8,
)
START = dict(Gp=178.6, Gt=135.0, Il=4.5, Ip=1.25, I=25.0, Ipo=3.6)


def oral_model(grams, minutes):
    p, dose = P, 1000.0 * grams
    a = 5 / (2 * dose * (1 - p["b"]))
    c = 5 / (2 * dose * p["d"])

    def parts(y):
        Gp, Gt, Il, Ip, q1, q2, gut, I1, Id, X, Ipo, Y = y
        egp = max(p["kp1"] - p["kp2"] * Gp - p["kp3"] * Id - p["kp4"] * Ipo, 0.0)
        ra = p["f"] * p["kabs"] * gut / p["BW"]
        return egp, ra

    def slope(_, y):
        Gp, Gt, Il, Ip, q1, q2, gut, I1, Id, X, Ipo, Y = y
        egp, ra = parts(y)
        held = q1 + q2
        kempt = p["kmin"] + (p["kmax"] - p["kmin"]) / 2 * (
            np.tanh(a * (held - p["b"] * dose)) - np.tanh(c * (held - p["d"] * dose)) + 2
        )
        uid = (p["Vm0"] + p["Vmx"] * X) * Gt / (p["Km0"] + Gt)
        renal = p["ke1"] * max(Gp - p["ke2"], 0.0)
        dGp = egp + ra - p["Fcns"] - renal - p["k1"] * Gp + p["k2"] * Gt
        dG = dGp / p["VG"]
        S = p["gamma"] * Ipo
        HE = -p["m5"] * S + p["m6"]
        m3 = HE * p["m1"] / (1 - HE)
        I = Ip / p["VI"]
        Spo = Y + p["Sb"] + (p["K"] * dG if dG > 0 else 0.0)
        drive = p["beta"] * (Gp / p["VG"] - p["Gb"])
        dY = -p["alpha"] * (Y - max(drive, -p["Sb"]))
        return [
            dGp,
            -uid + p["k1"] * Gp - p["k2"] * Gt,
            -(p["m1"] + m3) * Il + p["m2"] * Ip + S,
            -(p["m2"] + p["m4"]) * Ip + p["m1"] * Il,
            -p["kgri"] * q1,
            -kempt * q2 + p["kgri"] * q1,
            -p["kabs"] * gut + kempt * q2,
            -p["ki"] * (I1 - I),
            -p["ki"] * (Id - I1),
            -p["p2U"] * X + p["p2U"] * (I - p["Ib"]),
            -p["gamma"] * Ipo + Spo,
            dY,
        ]

    s = START
    y0 = [s["Gp"], s["Gt"], s["Il"], s["Ip"], dose, 0, 0, s["I"], s["I"], 0, s["Ipo"], 0]
    t = np.arange(minutes + 1)
    found = solve_ivp(
        slope, (0, minutes), y0, "LSODA", t, rtol=1e-9, atol=1e-9, max_step=1.0
    )
    egp, ra = np.array([parts(y) for y in found.y.T]).T
    return found.y[0] / p["VG"], found.y[3] / p["VI"], ra, egp


@pytest.mark.parametrize("grams", [5, 45, 78, 150])
def test_oral_model_is_within_a_tenth_of_a_reference_solver(grams):
    ours = gly.simulate.oral_meal(grams, 420)
    glucose, insulin, appearance, production = oral_model(grams, 420)
    assert np.abs(np.asarray(ours["glucose_mg_dl"]) - glucose).max() < 0.1
    assert np.abs(np.asarray(ours["insulin_pmol_l"]) - insulin).max() < 0.5
    assert np.abs(np.asarray(ours["appearance_mg_kg_min"]) - appearance).max() < 0.01
    assert np.abs(np.asarray(ours["production_mg_kg_min"]) - production).max() < 0.01


@pytest.mark.parametrize("grams, minutes", [(-1, 60), (float("nan"), 60), (301, 60), (50, 1441)])
def test_oral_meal_refuses_what_makes_no_sense(grams, minutes):
    with pytest.raises(gly.GlycemicError):
        gly.simulate.oral_meal(grams, minutes)


def test_a_trial_comes_as_tables():
    trial = gly.simulate.trial("demo", seed=1, full=False)
    assert set(trial.tables) >= {"sensor", "meter", "meals", "activity", "sleep", "notes", "wear"}
    sensor = trial.tables["sensor"]
    assert len(sensor["time_ms"]) == len(sensor["glucose_mg_dl"]) > 3500
    truth = trial.truth
    assert truth["lag_minus_clock_min"] == truth["best_shift_min"] - truth["meter_clock_ahead_min"]
    again = gly.simulate.trial("demo", seed=1, full=False)
    assert again.truth == truth
    assert again.tables["meals"].to_dict() == trial.tables["meals"].to_dict()
    with pytest.raises(gly.GlycemicError, match="scenario"):
        gly.simulate.trial("no such scenario")
