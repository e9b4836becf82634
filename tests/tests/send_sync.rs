//! Public types can be sent to other threads and shared between them.

use glycemic_core::*;

fn shared<T: Send + Sync + 'static>() {}

#[test]
fn public_types_are_send_and_sync() {
    shared::<Error>();
    shared::<Problem>();
    shared::<Estimate>();
    shared::<Reason>();
    shared::<Table>();
    shared::<Unit>();
    shared::<units::Limit>();
    shared::<Trace>();
    shared::<TraceView<'static>>();
    shared::<Meter>();
    shared::<Cleaning>();
    shared::<series::Builder>();
    shared::<series::Censor>();
    shared::<series::Coverage>();
    shared::<series::Gap>();
    shared::<series::Rejected>();
    shared::<clock::LocalClock>();
    shared::<clock::Resolved>();
    shared::<area::Rule>();
    shared::<interpolate::Method>();
    shared::<stats::line::Line>();
    shared::<stats::line::Inverse>();
    shared::<stats::random::Random>();
    shared::<Panel>();
    shared::<glycemic_core::cohort::Options>();
    shared::<glycemic_core::cohort::People>();
    shared::<glycemic_core::cohort::Stream>();
    shared::<panel::Histogram>();
    shared::<panel::Stream>();
    shared::<panel::Options>();
    shared::<panel::Id>();
    shared::<panel::Measure>();
    shared::<panel::Blood>();
    shared::<agreement::Summary>();
    shared::<agreement::Share>();
    shared::<agreement::BlandAltman>();
    shared::<agreement::standards::Row>();
    shared::<align::Pairs>();
    shared::<tolerance::Fit>();
    shared::<tolerance::Options>();
    shared::<contrast::Contrast>();
    shared::<trial::Trial>();
    shared::<trial::Config>();
    shared::<review::Review>();
    shared::<review::Answer>();
    shared::<simulate::Scenario>();
    shared::<simulate::Simulated>();
    shared::<align::Unpaired>();
    shared::<align::How>();
    shared::<align::Outside>();
    shared::<align::PairOptions>();
    shared::<align::PairingSensitivity>();
    shared::<align::WearEvent>();
    shared::<agreement::Changes>();
    shared::<agreement::SensorSpread>();
    shared::<sensor::accounts::Accounts>();
    shared::<stats::survival::Survival>();
    shared::<meals::Responses>();
}
