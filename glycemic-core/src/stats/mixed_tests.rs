use super::*;

/// Mean reaction time in ms of 18 people over ten days of little sleep: Belenky G and others. J Sleep
/// Res 2003; 12: 1-12.
const REACTION: [[f64; 10]; 18] = [
    [
        249.56, 258.7047, 250.8006, 321.4398, 356.8519, 414.6901, 382.2038, 290.1486, 430.5853,
        466.3535,
    ],
    [
        222.7339, 205.2658, 202.9778, 204.707, 207.7161, 215.9618, 213.6303, 217.7272, 224.2957,
        237.3142,
    ],
    [
        199.0539, 194.3322, 234.32, 232.8416, 229.3074, 220.4579, 235.4208, 255.7511, 261.0125,
        247.5153,
    ],
    [
        321.5426, 300.4002, 283.8565, 285.133, 285.7973, 297.5855, 280.2396, 318.2613, 305.3495,
        354.0487,
    ],
    [
        287.6079, 285.0, 301.8206, 320.1153, 316.2773, 293.3187, 290.075, 334.8177, 293.7469,
        371.5811,
    ],
    [
        234.8606, 242.8118, 272.9613, 309.7688, 317.4629, 309.9976, 454.1619, 346.8311, 330.3003,
        253.8644,
    ],
    [
        283.8424, 289.555, 276.7693, 299.8097, 297.171, 338.1665, 332.0265, 348.8399, 333.36,
        362.0428,
    ],
    [
        265.4731, 276.2012, 243.3647, 254.6723, 279.0244, 284.1912, 305.5248, 331.5229, 335.7469,
        377.299,
    ],
    [
        241.6083, 273.9472, 254.4907, 270.8021, 251.4519, 254.6362, 245.4523, 235.311, 235.7541,
        237.2466,
    ],
    [
        312.3666, 313.8058, 291.6112, 346.1222, 365.7324, 391.8385, 404.2601, 416.6923, 455.8643,
        458.9167,
    ],
    [
        236.1032, 230.3167, 238.9256, 254.922, 250.7103, 269.7744, 281.5648, 308.102, 336.2806,
        351.6451,
    ],
    [
        256.2968, 243.4543, 256.2046, 255.5271, 268.9165, 329.7247, 379.4445, 362.9184, 394.4872,
        389.0527,
    ],
    [
        250.5265, 300.0576, 269.8939, 280.5891, 271.8274, 304.6336, 287.7466, 266.5955, 321.5418,
        347.5655,
    ],
    [
        221.6771, 298.1939, 326.8785, 346.8555, 348.7402, 352.8287, 354.4266, 360.4326, 375.6406,
        388.5417,
    ],
    [
        271.9235, 268.4369, 257.2424, 277.6566, 314.8222, 317.2135, 298.1353, 348.1229, 340.28,
        366.5131,
    ],
    [
        225.264, 234.5235, 238.9008, 240.473, 267.5373, 344.1937, 281.1481, 347.5855, 365.163,
        372.2288,
    ],
    [
        269.8804, 272.4428, 277.8989, 281.7895, 279.1705, 284.512, 259.2658, 304.6306, 350.7807,
        369.4692,
    ],
    [
        269.4117, 273.474, 297.5968, 310.6316, 287.1726, 329.6076, 334.4818, 343.2199, 369.1417,
        364.1236,
    ],
];

/// The maximum of the restricted likelihood for (Reaction ~ Days + (Days | Subject)) as published with
/// Bates D, Maechler M, Bolker B, Walker S. J Stat Softw 2015; 67(1), and digits of a refit: fixed effects 251.4051
/// (6.8246) and 10.46729 (1.5458); standard deviations 24.740, 5.9221, correlation 0.0656, residual
/// 25.5918; criterion 1743.6283. Intercepts and slopes that go together are made of independent ones
/// by the lower factor of their covariance; the common ratio and the rest are found here.
#[test]
fn sleep_study() {
    let (sd_intercept, sd_slope, correlation, residual) = (24.740, 5.9221, 0.0656, 25.5918);
    let of_intercept = [sd_intercept / residual, 0.0];
    let of_slope = [
        correlation * sd_slope / residual,
        f64::sqrt(1.0 - correlation * correlation) * sd_slope / residual,
    ];
    let day = |i: usize| (i % 10) as f64;
    let y: Vec<f64> = REACTION.iter().flatten().copied().collect();
    let fixed = [vec![1.0; 180], (0..180).map(day).collect()];
    let mut part = Vec::new();
    for person in 0..18 {
        for (at_zero, a_day) in of_intercept.iter().zip(&of_slope) {
            let z = |i: usize| at_zero + day(i) * a_day;
            part.push((0..180).map(|i| if i / 10 == person { z(i) } else { 0.0 }).collect());
        }
    }
    let model = reml(&y, &[1.0; 180], &fixed, &[part]).unwrap().unwrap();
    let near = |found: f64, published: f64, within: f64| {
        assert!((found - published).abs() < within, "{found} {published}");
    };
    near(model.coefficients[0], 251.4051, 1e-4);
    near(model.coefficients[1], 10.46729, 1e-5);
    near(model.covariance[0][0].sqrt(), 6.8246, 2e-4);
    near(model.covariance[1][1].sqrt(), 1.5458, 1e-4);
    near(model.residual_variance.sqrt(), 25.5918, 1e-3);
    near(model.ratios[0], 1.0, 1e-3);
    near(model.criterion, 1743.6283, 1e-4);
}

#[test]
fn few_groups_that_look_alike_keep_a_variance() {
    let y = [1.0, 2.0, 3.0, 3.0, 1.0, 2.0, 2.0, 3.0, 1.0];
    let group = |k: usize| (0..9).map(|i| f64::from(u8::from(i / 3 == k))).collect::<Vec<f64>>();
    let parts = [(0..3).map(group).collect::<Vec<_>>()];
    let plain = reml(&y, &[1.0; 9], &[vec![1.0; 9]], &parts).unwrap().unwrap();
    let off = reml_off_zero(&y, &[1.0; 9], &[vec![1.0; 9]], &parts).unwrap().unwrap();
    assert_eq!(plain.ratios, [0.0]);
    assert!(off.ratios[0] > 0.01 && off.ratios[0] < 2.0, "{:?}", off.ratios);
    // The mean of a group: fixed and random part together, known better than by its three alone.
    let (_, variance) = off.combination(&[1.0, 1.0]);
    assert!(variance < off.residual_variance / 3.0 && variance > off.residual_variance / 9.0);
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let one = vec![1.0; 4];
    assert!(reml(&[1.0], &[1.0], &[vec![1.0]], &[]).is_err());
    assert!(reml(&[1.0; 4], &[1.0; 3], std::slice::from_ref(&one), &[]).is_err());
    // Two equal columns cannot be told apart.
    assert_eq!(reml(&[1.0, 2.0, 3.0, 5.0], &one, &[one.clone(), one.clone()], &[]).unwrap(), None);
    // Nothing is left to learn from.
    assert_eq!(reml(&[2.0; 4], &one, std::slice::from_ref(&one), &[]).unwrap(), None);
}
