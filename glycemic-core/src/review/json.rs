//! A review as JSON, schema `glycemic.review/1`.

use serde_json::{Value, json};

use super::answer::{Answer, Figure, Review};
use super::cautions::caution;

impl Review {
    /// The review as a JSON value.
    pub fn to_json_value(&self) -> Value {
        json!({
            "schema": "glycemic.review/1",
            "library_version": env!("CARGO_PKG_VERSION"),
            "options": {"level": self.options.level, "seed": self.options.seed},
            "person": self.person,
            "targets": self.targets,
            "cautions": self.cautions.iter().map(|c| json!({"code": c, "text": caution(c)})).collect::<Vec<_>>(),
            "answers": self.answers.iter().map(answer).collect::<Vec<_>>(),
            "methods": self.methods(),
        })
    }

    /// The review as indented JSON text.
    pub fn to_json(&self) -> String {
        format!("{:#}", self.to_json_value())
    }
}

fn answer(a: &Answer) -> Value {
    let tables: serde_json::Map<String, Value> =
        a.tables.iter().map(|(n, t)| (n.clone(), t.to_json())).collect();
    json!({
        "id": a.id,
        "question": a.question,
        "status": a.status.code(),
        "figures": a.figures.iter().map(figure).collect::<Vec<_>>(),
        "reasons": a.reasons,
        "cautions": a.cautions.iter().map(|c| json!({"code": c, "text": caution(c)})).collect::<Vec<_>>(),
        "tables": tables,
    })
}

fn figure(f: &Figure) -> Value {
    let e = &f.estimate;
    json!({
        "id": f.id, "label": f.label, "unit": f.unit, "basis": f.basis,
        "value": e.value, "low": e.low, "high": e.high, "level": e.level,
        "method": e.method, "n": e.n, "needed": e.needed, "reason": e.reason,
    })
}
