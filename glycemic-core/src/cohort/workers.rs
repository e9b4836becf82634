//! Working on people on several cores, with results in the order of the people.

use super::columns::Stretch;
use crate::error::Error;
use crate::stats::resample;

/// People that share a worker's room for readings, one after the other.
const BLOCK: usize = 8;

/// Threads to work on.
pub(super) struct Workers {
    #[cfg(feature = "parallel")]
    pool: Option<rayon::ThreadPool>,
    alone: bool,
}

impl Workers {
    /// A number of threads, or all cores, for at most so many people.
    #[cfg(feature = "parallel")]
    pub(super) fn new(threads: Option<usize>, people: usize) -> Result<Workers, Error> {
        let refused = |value| Error::OutOfRange {
            name: "threads",
            index: None,
            value: value as f64,
            low: 1.0,
            high: 1024.0,
        };
        let pool = match threads {
            Some(n) if n > 1 && people > BLOCK => {
                let built = rayon::ThreadPoolBuilder::new().num_threads(n).build();
                Some(built.map_err(|_| refused(n))?)
            }
            _ => None,
        };
        Ok(Workers { pool, alone: threads == Some(1) })
    }

    /// Without the feature `parallel` there is one thread.
    #[cfg(not(feature = "parallel"))]
    pub(super) fn new(_threads: Option<usize>, _people: usize) -> Result<Workers, Error> {
        Ok(Workers { alone: true })
    }

    /// `f(0)` to `f(n - 1)`, in order, each with a room for readings that others used before.
    pub(super) fn each<T: Send>(
        &self,
        n: usize,
        f: impl Fn(usize, &mut Stretch) -> T + Sync + Send,
    ) -> Vec<T> {
        let block = |b: usize| {
            let mut room = Stretch::default();
            let people = b * BLOCK..n.min((b + 1) * BLOCK);
            people.map(|k| f(k, &mut room)).collect::<Vec<T>>()
        };
        let blocks = n.div_ceil(BLOCK);
        if self.alone || blocks < 2 {
            return (0..blocks).flat_map(block).collect();
        }
        let all = || resample::each(blocks, |b| block(b as usize));
        #[cfg(feature = "parallel")]
        let done = match &self.pool {
            Some(pool) => pool.install(all),
            None => all(),
        };
        #[cfg(not(feature = "parallel"))]
        let done = all();
        done.into_iter().flatten().collect()
    }
}
