//! The pass that finds episodes: see [`episodes`](super::episodes) for what counts as one.

use std::collections::VecDeque;

use super::episodes::{Episode, Hold, Rule, Side};
use super::options::EpisodeLength;
use crate::series::TraceView;

const MINUTE: f64 = 60_000.0;
/// Share by which two lengths may differ and still be the same: sensors' clocks drift.
const DRIFT: f64 = 0.005;

/// Readings without a gap between them: `from..to` of the view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Piece {
    from: usize,
    to: usize,
    /// Whether another sensor took over just before it.
    change_before: bool,
    /// Whether another sensor takes over just after it.
    change_after: bool,
    /// The reading after the gap that ends it, or the end of time.
    next_ms: i64,
}

impl Piece {
    pub(super) fn len(&self) -> usize {
        self.to - self.from
    }
}

/// The pieces between the gaps of a view.
pub(super) fn pieces(view: TraceView<'_>) -> Vec<Piece> {
    let times = view.times_ms();
    let limit = 3 * view.trace().nominal_ms();
    let breaks = view.trace().breaks_ms();
    let mut next_break = breaks.partition_point(|&b| times.first().is_some_and(|&t| b <= t));
    let mut pieces = Vec::new();
    let (mut from, mut change_before) = (0, false);
    for to in 1..times.len() {
        let (last, next) = (times[to - 1], times[to]);
        let change = breaks.get(next_break).is_some_and(|&b| b <= next);
        if !change && next - last <= limit {
            continue;
        }
        while breaks.get(next_break).is_some_and(|&b| b <= next) {
            next_break += 1;
        }
        pieces.push(Piece { from, to, change_before, change_after: change, next_ms: next });
        (from, change_before) = (to, change);
    }
    if !times.is_empty() {
        let (to, next_ms) = (times.len(), i64::MAX);
        pieces.push(Piece { from, to, change_before, change_after: false, next_ms });
    }
    pieces
}

/// When a run of readings is long enough: so many readings and so long from first to last.
#[derive(Clone, Copy, Debug)]
struct Enough {
    readings: usize,
    span_ms: f64,
}

impl Enough {
    fn new(minutes: f64, length: EpisodeLength, nominal_ms: i64) -> Enough {
        let ms = minutes * MINUTE * (1.0 - DRIFT);
        match length {
            EpisodeLength::CountTimesInterval => {
                let readings = (ms / nominal_ms as f64).ceil().max(1.0) as usize;
                Enough { readings, span_ms: 0.0 }
            }
            EpisodeLength::Span => Enough { readings: 1, span_ms: ms },
        }
    }

    fn met(self, readings: usize, span_ms: i64) -> bool {
        readings >= self.readings && span_ms as f64 >= self.span_ms
    }
}

/// Readings at the nominal interval that an episode by this rule takes at the least.
pub(super) fn readings_needed(rule: &Rule, nominal_ms: i64) -> usize {
    let minutes = match rule.hold {
        Hold::InARow(minutes) => minutes,
        // More than so many: half an interval more settles it.
        Hold::Within { over_min, .. } => over_min + 0.5 * nominal_ms as f64 / MINUTE,
    };
    let steps = Enough::new(minutes, EpisodeLength::CountTimesInterval, nominal_ms).readings;
    match rule.length {
        EpisodeLength::CountTimesInterval => steps,
        EpisodeLength::Span => steps + 1,
    }
}

/// Says when an episode starts, and at which earlier reading it did.
trait Trigger {
    fn beyond(&mut self, times: &[i64], i: usize) -> Option<usize>;
    fn within(&mut self);
    fn clear(&mut self);
}

/// So many minutes in a row.
struct InARow {
    enough: Enough,
    first: usize,
    count: usize,
}

impl Trigger for InARow {
    fn beyond(&mut self, times: &[i64], i: usize) -> Option<usize> {
        if self.count == 0 {
            self.first = i;
        }
        self.count += 1;
        self.enough.met(self.count, times[i] - times[self.first]).then_some(self.first)
    }
    fn within(&mut self) {
        self.count = 0;
    }
    fn clear(&mut self) {
        self.count = 0;
    }
}

/// More than so many minutes of any window.
struct InWindow {
    over_ms: f64,
    window_ms: f64,
    /// What each reading stands for: one nominal interval by count, nothing by span.
    each_ms: i64,
    /// Readings beyond the level in the window, and by span the step from the one before.
    held: VecDeque<(usize, i64)>,
    held_ms: i64,
}

impl InWindow {
    fn drop_first(&mut self) {
        self.held.pop_front();
        self.held_ms -= self.each_ms;
        // The step into what is now the first one starts outside the window.
        if let Some(first) = self.held.front_mut() {
            self.held_ms -= first.1;
            first.1 = 0;
        }
    }
}

impl Trigger for InWindow {
    fn beyond(&mut self, times: &[i64], i: usize) -> Option<usize> {
        let step = match self.held.back() {
            Some(&(last, _)) if self.each_ms == 0 && last + 1 == i => times[i] - times[last],
            _ => 0,
        };
        self.held.push_back((i, step));
        self.held_ms += self.each_ms + step;
        while let Some(&(first, _)) = self.held.front()
            && (times[i] - times[first] + self.each_ms) as f64 > self.window_ms
            && first < i
        {
            self.drop_first();
        }
        let first = self.held.front()?.0;
        (self.held_ms as f64 > self.over_ms).then_some(first)
    }
    fn within(&mut self) {}
    fn clear(&mut self) {
        self.held.clear();
        self.held_ms = 0;
    }
}

/// The episodes of `view`, whose pieces are `pieces`, by a rule that has been checked.
pub(super) fn find(view: TraceView<'_>, pieces: &[Piece], rule: &Rule) -> Vec<Episode> {
    let nominal_ms = view.trace().nominal_ms();
    match rule.hold {
        Hold::InARow(minutes) => {
            let enough = Enough::new(minutes, rule.length, nominal_ms);
            find_with(view, pieces, rule, InARow { enough, first: 0, count: 0 })
        }
        Hold::Within { over_min, window_min } => {
            let by_count = rule.length == EpisodeLength::CountTimesInterval;
            let trigger = InWindow {
                over_ms: over_min * MINUTE * (1.0 + DRIFT),
                window_ms: window_min * MINUTE * (1.0 + DRIFT),
                each_ms: if by_count { nominal_ms } else { 0 },
                held: VecDeque::new(),
                held_ms: 0,
            };
            find_with(view, pieces, rule, trigger)
        }
    }
}

/// An episode under way.
struct Open {
    start: usize,
    /// The extreme so far, turned so that it is the lowest.
    extreme: f64,
    back_from: usize,
    back: usize,
}

fn find_with<T: Trigger>(
    view: TraceView<'_>,
    pieces: &[Piece],
    rule: &Rule,
    mut trigger: T,
) -> Vec<Episode> {
    let unit = view.trace().unit();
    let (times, glucose) = (view.times_ms(), view.glucose_mg_dl());
    // Turned upside down, a high is a low.
    let turn = if rule.side == Side::Below { 1.0 } else { -1.0 };
    let level = turn * rule.level.in_source(unit);
    let recovery = turn * rule.recovery.in_source(unit);
    let recovered = Enough::new(rule.recovery_min, rule.length, view.trace().nominal_ms());
    let mut out = Vec::new();
    for piece in pieces {
        trigger.clear();
        let mut open: Option<Open> = None;
        for i in piece.from..piece.to {
            let value = turn * glucose[i];
            let Some(episode) = &mut open else {
                if value >= level {
                    trigger.within();
                } else if let Some(start) = trigger.beyond(times, i) {
                    let values = glucose[start..=i].iter().map(|g| turn * g);
                    let extreme = values.fold(f64::INFINITY, f64::min);
                    open = Some(Open { start, extreme, back_from: i, back: 0 });
                    trigger.clear();
                }
                continue;
            };
            episode.extreme = episode.extreme.min(value);
            if value < recovery {
                episode.back = 0;
                continue;
            }
            if episode.back == 0 {
                episode.back_from = i;
            }
            episode.back += 1;
            if recovered.met(episode.back, times[i] - times[episode.back_from]) {
                out.push(closed(view, rule, piece, episode, false));
                open = None;
            }
        }
        out.extend(open.map(|episode| closed(view, rule, piece, &episode, true)));
    }
    out
}

/// The episode, ended by its recovery or by the end of its piece.
fn closed(view: TraceView<'_>, rule: &Rule, piece: &Piece, open: &Open, by_piece: bool) -> Episode {
    let (times, trace) = (view.times_ms(), view.trace());
    let end_ms = match rule.length {
        _ if open.back > 0 => times[open.back_from],
        EpisodeLength::CountTimesInterval => {
            (times[piece.to - 1] + trace.nominal_ms()).min(piece.next_ms)
        }
        EpisodeLength::Span => times[piece.to - 1],
    };
    let at_start = open.start == piece.from;
    let start_ms = times[open.start];
    Episode {
        start_ms,
        end_ms,
        minutes: (end_ms - start_ms) as f64 / MINUTE,
        extreme_mg_dl: open.extreme.abs(),
        level_mg_dl: rule.level.in_source(trace.unit()),
        nocturnal: trace.clock().map(|c| c.minute_of_day(start_ms) < 360.0),
        cut: at_start || by_piece,
        sensor_change: at_start && piece.change_before || by_piece && piece.change_after,
    }
}
