//! What the diary holds beside meals and activity: sleep, notes, and what happened to the sensor.

/// A night, or any other sleep.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Sleep {
    /// Start, UTC milliseconds.
    pub start_ms: i64,
    /// End, UTC milliseconds.
    pub end_ms: i64,
    /// Such as `good`, `poor`.
    pub quality: Option<String>,
}

/// Something that happened to the sensor.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Wear {
    /// When, UTC milliseconds.
    pub time_ms: i64,
    /// inserted, removed, calibrated, failed or alarm.
    pub event: String,
    /// Which sensor.
    pub sensor: Option<String>,
    /// Where on the body.
    pub site: Option<String>,
    /// A value, such as the one calibrated to.
    pub value: Option<String>,
}

/// A symptom, stress, illness, or anything else noted.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Note {
    /// When, UTC milliseconds.
    pub time_ms: i64,
    /// symptom, stress, illness, medication, ...
    pub kind: String,
    /// How strong.
    pub severity: Option<String>,
    /// What was written.
    pub text: Option<String>,
}
