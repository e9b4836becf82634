//! What a meal is to the gut: how fast it arrives, and how much of it as glucose.
//!
//! # Method
//! Each kind of food has a speed against the paper's mixed meal, and a share of its net
//! carbohydrate that appears as glucose in the blood; the rest is fructose, galactose and what is
//! not digested. Fibre, protein and fat divide the speed by one plus a figure per gram: the meal
//! arrives later and lower. Our own factors, chosen so that the 2-h areas of 50 g stand in the
//! order of the international tables and, in the papers' normal adults, inside the range of each
//! group. In the quick young adults of `HEALTHY` glucose comes back well within 2 h, so the same
//! foods score higher than the tables there: 85, 65, 47, 42 for grain, fruit, dairy, legumes.
//!
//! # Source
//! Atkinson FS, Foster-Powell K, Brand-Miller JC. *Diabetes Care* 31 (2008): 2281-2283, means of
//! the groups from memory: glucose 100, bread and rice and oats 55-75, fruit 40-55, dairy 30-40,
//! legumes 25-35. Moghaddam E, Vogt JA, Wolever TMS. *J Nutr* 136 (2006): 2506-2511, from memory:
//! protein lowers the response of adults without diabetes at least twice as much per gram as fat.

/// Kind of food, by how fast its carbohydrate arrives, and how much of it as glucose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "lowercase"))]
pub enum Kind {
    /// Bread, rice, oats.
    Grain,
    /// Lentils, beans, chickpeas.
    Legume,
    /// Milk and yoghurt.
    Dairy,
    /// Fruit.
    Fruit,
    /// Sugar, juice.
    Sweet,
    /// Glucose in water: the reference food of the tables.
    Drink,
}

/// What a kind of food does in the gut.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Nature {
    /// Speed of emptying and absorption against the paper's mixed meal.
    pub(crate) speed: f64,
    /// Share of net carbohydrate that appears as glucose.
    pub(crate) share: f64,
    /// Whether it needs no grinding in the stomach.
    pub(crate) liquid: bool,
    /// Time of peak appearance in the second world, min.
    pub(crate) tmax_min: f64,
}

impl Kind {
    /// Every kind, from the fastest rise per gram to the slowest but for sweets.
    #[cfg(test)]
    pub(crate) const ALL: [Self; 6] =
        [Self::Drink, Self::Grain, Self::Fruit, Self::Dairy, Self::Legume, Self::Sweet];

    /// The tag written in the diary.
    pub fn tag(self) -> &'static str {
        match self {
            Self::Grain => "grain",
            Self::Legume => "legume",
            Self::Dairy => "dairy",
            Self::Fruit => "fruit",
            Self::Sweet => "sweet",
            Self::Drink => "drink",
        }
    }

    /// What it does in the gut. Our own figures; see the module.
    pub(crate) fn nature(self) -> Nature {
        let (speed, share, liquid, tmax_min) = match self {
            Self::Grain => (1.45, 0.78, false, 46.0),
            Self::Legume => (0.68, 0.53, false, 76.0),
            Self::Dairy => (0.98, 0.48, false, 60.0),
            Self::Fruit => (1.35, 0.58, false, 50.0),
            Self::Sweet => (1.50, 0.63, true, 36.0),
            Self::Drink => (1.50, 1.00, true, 34.0),
        };
        Nature { speed, share, liquid, tmax_min }
    }
}

/// What reaches the stomach with one meal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bite {
    /// Net carbohydrate as it acts, g (eaten, times the meal's own variation).
    pub(crate) acting_g: f64,
    /// Kind of food.
    pub(crate) kind: Kind,
    /// Factor on the kind's speed.
    pub(crate) speed: f64,
    /// Fat, g.
    pub(crate) fat_g: f64,
    /// Protein, g.
    pub(crate) protein_g: f64,
    /// Fibre, g.
    pub(crate) fiber_g: f64,
}

/// How one person's gut handles a meal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gut {
    /// Factor on every meal's speed.
    pub(crate) speed: f64,
    /// Slowing by fibre, per g.
    pub(crate) fiber: f64,
    /// Slowing by protein, per g.
    pub(crate) protein: f64,
    /// Slowing by fat, per g.
    pub(crate) fat: f64,
}

impl Gut {
    /// Factor on the kind's own speed: the person's, the meal's, and what slows it.
    pub(crate) fn pace(&self, bite: &Bite) -> f64 {
        let slowing = self.fiber * bite.fiber_g.max(0.0)
            + self.protein * bite.protein_g.max(0.0)
            + self.fat * bite.fat_g.max(0.0);
        self.speed * bite.speed / (1.0 + slowing)
    }
}

/// Glucose that will appear, mg.
pub(crate) fn dose_mg(bite: &Bite) -> f64 {
    1000.0 * bite.kind.nature().share * bite.acting_g.max(0.0)
}
