//! What a person ate and did, row by row. Meaning of the columns: `glycemic_core::meals::Meal`.

use std::ffi::c_char;

use glycemic_core::error::require_within;
use glycemic_core::meals::{Activity, Meal};

use crate::error::{Failure, GlycError, GlycStatus, guard};
use crate::pointers::{give, handle_mut, place, take, text};

/// Most grams of one thing in one meal.
const MOST_G: f64 = 2000.0;
/// Most minutes of one activity.
const MOST_MIN: f64 = 1440.0;
/// First and last instant that is taken for one: 1990 and 2099, as for a trace.
const PLAUSIBLE_MS: (f64, f64) = (631_152_000_000.0, 4_102_444_800_000.0);

/// Meals and activity of one person; rows may come in any order.
pub struct GlycDiary {
    pub(crate) meals: Vec<Meal>,
    pub(crate) activity: Vec<Activity>,
}

/// Meals of a diary; none for NULL.
///
/// # Safety
/// `diary` is NULL or valid to read for as long as the result is used.
pub(crate) unsafe fn meals_or_none<'a>(diary: *const GlycDiary) -> &'a [Meal] {
    // SAFETY: NULL or valid by the contract.
    unsafe { diary.as_ref() }.map_or(&[], |d| &d.meals)
}

/// When meals began, UTC milliseconds.
pub(crate) fn starts(meals: &[Meal]) -> Vec<i64> {
    meals.iter().map(|m| m.time_ms).collect()
}

/// An instant in the plausible span of years.
pub(crate) fn instant(name: &'static str, time_ms: i64) -> Result<i64, Failure> {
    require_within(name, time_ms as f64, PLAUSIBLE_MS.0, PLAUSIBLE_MS.1)?;
    Ok(time_ms)
}

/// An empty diary.
///
/// `diary_out` (out): the new diary; free it with `glyc_diary_free`.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// Each pointer is NULL or valid to write.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_diary_new(
    diary_out: *mut *mut GlycDiary,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        let out = place("diary_out", diary_out)?;
        // SAFETY: not NULL, so valid to write.
        unsafe { out.write(give(GlycDiary { meals: Vec::new(), activity: Vec::new() })) };
        Ok(())
    })
}

/// Grams, where known: NaN stands for not known.
fn grams(name: &'static str, value: f64) -> Result<Option<f64>, Failure> {
    if value.is_nan() {
        return Ok(None);
    }
    require_within(name, value, 0.0, MOST_G)?;
    Ok(Some(value))
}

/// Text, where given.
///
/// # Safety
/// `at` is NULL or text that ends with a zero.
pub(crate) unsafe fn some_text<'a>(
    name: &'static str,
    at: *const c_char,
) -> Result<Option<&'a str>, Failure> {
    // SAFETY: not NULL where it is read, so valid by the contract.
    if at.is_null() { Ok(None) } else { unsafe { text(name, at) }.map(Some) }
}

/// Adds a meal.
///
/// `diary` (in, out): changed; nothing is added when the call fails.
/// `time_ms` (in): when it began, UTC milliseconds since 1970, in the years 1990 to 2099.
/// `carbs_g`, `fiber_g`, `protein_g`, `fat_g` (in): grams, 0 to 2000; NaN where not known. Net
/// carbohydrate is total less fibre (common practice, no source).
/// `label` (in): NULL, or what it was; copied.
/// `tags` (in): NULL, or words parted by semicolons, such as "grain;eating-out"; copied.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// `diary` is NULL or was not freed and is used by nobody else meanwhile; each text is NULL or
/// ends with a zero.
#[unsafe(no_mangle)]
#[allow(clippy::too_many_arguments, reason = "a row of the diary")]
pub unsafe extern "C" fn glyc_diary_add_meal(
    diary: *mut GlycDiary,
    time_ms: i64,
    carbs_g: f64,
    fiber_g: f64,
    protein_g: f64,
    fat_g: f64,
    label: *const c_char,
    tags: *const c_char,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (diary, label, tags) = unsafe {
            (handle_mut("diary", diary)?, some_text("label", label)?, some_text("tags", tags)?)
        };
        let words = tags.unwrap_or_default().split(';').map(str::trim);
        diary.meals.push(Meal {
            time_ms: instant("time_ms", time_ms)?,
            carbs_g: grams("carbs_g", carbs_g)?,
            fiber_g: grams("fiber_g", fiber_g)?,
            protein_g: grams("protein_g", protein_g)?,
            fat_g: grams("fat_g", fat_g)?,
            label: label.map(str::to_string),
            tags: words.filter(|w| !w.is_empty()).map(str::to_string).collect(),
            ..Meal::default()
        });
        Ok(())
    })
}

/// Adds a walk or other activity.
///
/// `diary` (in, out): changed; nothing is added when the call fails.
/// `start_ms` (in): UTC milliseconds since 1970, in the years 1990 to 2099.
/// `minutes` (in): how long, 0 to 1440.
/// `kind` (in): such as "walk"; copied.
/// `effort` (in): NULL, or "light", "moderate", "vigorous"; copied.
/// `error` (out): NULL, or where to put what went wrong; free it with `glyc_error_free`.
///
/// Statuses: `OUT_OF_RANGE`, `NULL_ARGUMENT`. Since 0.1.
///
/// # Safety
/// As for `glyc_diary_add_meal`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_diary_add_activity(
    diary: *mut GlycDiary,
    start_ms: i64,
    minutes: f64,
    kind: *const c_char,
    effort: *const c_char,
    error: *mut *mut GlycError,
) -> GlycStatus {
    guard(error, || {
        // SAFETY: NULL or valid by the contract above.
        let (diary, kind, effort) = unsafe {
            (handle_mut("diary", diary)?, text("kind", kind)?, some_text("effort", effort)?)
        };
        let start_ms = instant("start_ms", start_ms)?;
        require_within("minutes", minutes, 0.0, MOST_MIN)?;
        let (kind, effort) = (kind.to_string(), effort.map(str::to_string));
        diary.activity.push(Activity { start_ms, minutes, kind, effort });
        Ok(())
    })
}

/// Number of meals; 0 for NULL. Since 0.1.
///
/// # Safety
/// `diary` is NULL or was not freed.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_diary_meals(diary: *const GlycDiary) -> usize {
    // SAFETY: NULL or valid by the contract.
    unsafe { diary.as_ref() }.map_or(0, |d| d.meals.len())
}

/// Frees a diary; nothing for NULL. Since 0.1.
///
/// # Safety
/// `diary` is NULL or was made by this library, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn glyc_diary_free(diary: *mut GlycDiary) {
    // SAFETY: by the contract.
    unsafe { take(diary) };
}
