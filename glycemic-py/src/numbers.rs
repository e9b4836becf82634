//! Columns of numbers of any type that lie where another library put them, maybe in pieces.

use std::borrow::Cow;
use std::ops::Range;

use numpy::PyReadonlyArray1;
use pyo3::prelude::*;

/// A type that a column may hold.
pub(crate) trait Number: Copy {
    fn float(self) -> f64;
    fn whole(self) -> i64;
}

/// What a column is read as.
pub(crate) trait Target: Copy {
    const MISSING: Self;
    fn of(number: impl Number) -> Self;
}

impl Target for f64 {
    const MISSING: f64 = f64::NAN;
    fn of(number: impl Number) -> f64 {
        number.float()
    }
}

impl Target for i64 {
    const MISSING: i64 = i64::MIN;
    fn of(number: impl Number) -> i64 {
        number.whole()
    }
}

macro_rules! kinds {
    ($($kind:ident $type:ident $whole:expr;)+) => {
        $(impl Number for $type {
            fn float(self) -> f64 {
                self as f64
            }
            fn whole(self) -> i64 {
                $whole(self)
            }
        })+

        /// Items of one type; borrowed unless they had to be copied.
        pub(crate) enum Values<'a> { $($kind(Cow<'a, [$type]>),)+ }

        impl Values<'_> {
            pub(crate) fn len(&self) -> usize {
                match self { $(Values::$kind(v) => v.len(),)+ }
            }

            fn run<T: Target>(&self, rows: Range<usize>, out: &mut Vec<T>) {
                match self { $(Values::$kind(v) => out.extend(v[rows].iter().map(|&x| T::of(x))),)+ }
            }

            fn pick<T: Target>(&self, rows: &[u32], out: &mut Vec<T>) {
                match self {
                    $(Values::$kind(v) => out.extend(rows.iter().map(|&r| T::of(v[r as usize]))),)+
                }
            }

            fn one<T: Target>(&self, row: usize) -> T {
                match self { $(Values::$kind(v) => T::of(v[row]),)+ }
            }
        }

        /// A NumPy array, borrowed for as long as this lives.
        pub(crate) enum Array<'py> { $($kind(PyReadonlyArray1<'py, $type>),)+ }

        impl<'py> Array<'py> {
            /// `None` if it isn't a contiguous array of one of the types.
            pub(crate) fn new(array: &Bound<'py, PyAny>) -> Option<Array<'py>> {
                $(if let Ok(a) = array.extract::<PyReadonlyArray1<'py, $type>>() {
                    return a.as_slice().is_ok().then_some(Array::$kind(a));
                })+
                None
            }

            pub(crate) fn values(&self) -> Values<'_> {
                match self {
                    $(Array::$kind(a) => Values::$kind(Cow::Borrowed(a.as_slice().unwrap_or(&[]))),)+
                }
            }
        }
    };
}

kinds! {
    I64 i64 |x| x;
    F64 f64 rounded;
    F32 f32 |x: f32| rounded(f64::from(x));
    I32 i32 i64::from;
    U32 u32 i64::from;
    I16 i16 i64::from;
    U16 u16 i64::from;
    I8 i8 i64::from;
    U8 u8 i64::from;
    U64 u64 |x| i64::try_from(x).unwrap_or(i64::MAX);
}

fn rounded(value: f64) -> i64 {
    if value.is_nan() { i64::MIN } else { value as i64 }
}

impl Values<'_> {
    pub(crate) fn are_whole(&self) -> bool {
        !matches!(self, Values::F32(_) | Values::F64(_))
    }
}

/// A bit for each item, the lowest first: whether it is there.
#[derive(Clone, Copy)]
pub(crate) struct Bits<'a> {
    pub(crate) bytes: &'a [u8],
    pub(crate) offset: usize,
}

impl Bits<'_> {
    pub(crate) fn get(&self, index: usize) -> bool {
        let at = self.offset + index;
        self.bytes.get(at / 8).is_some_and(|byte| byte & (1 << (at % 8)) != 0)
    }
}

/// A stretch of a column.
pub(crate) struct Piece<'a> {
    pub(crate) values: Values<'a>,
    pub(crate) valid: Option<Bits<'a>>,
}

/// A column of numbers.
pub(crate) struct Numbers<'a> {
    pieces: Vec<Piece<'a>>,
    /// Row at which each piece starts.
    starts: Vec<usize>,
    len: usize,
}

impl<'a> Numbers<'a> {
    pub(crate) fn new(pieces: Vec<Piece<'a>>) -> Numbers<'a> {
        let mut len = 0;
        let start = |piece: &Piece<'_>| {
            len += piece.values.len();
            len - piece.values.len()
        };
        let starts = pieces.iter().map(start).collect();
        Numbers { pieces, starts, len }
    }

    pub(crate) fn len(&self) -> usize {
        self.len
    }

    pub(crate) fn are_whole(&self) -> bool {
        self.pieces.iter().all(|p| p.values.are_whole())
    }

    /// All items, if they are of this type, in one piece, and none is missing.
    pub(crate) fn only_i64(&self) -> Option<&[i64]> {
        match self.pieces.as_slice() {
            [Piece { values: Values::I64(all), valid: None }] => Some(all),
            _ => None,
        }
    }

    /// Where `row` lies: its piece, and its place there.
    fn place(&self, row: usize) -> (usize, usize) {
        let piece = self.starts.partition_point(|&s| s <= row) - 1;
        (piece, row - self.starts[piece])
    }

    /// Appends the rows of a range.
    pub(crate) fn run<T: Target>(&self, rows: Range<usize>, out: &mut Vec<T>) {
        let (mut from, to) = (rows.start, rows.end);
        while from < to {
            let (k, first) = self.place(from);
            let piece = &self.pieces[k];
            let last = piece.values.len().min(first + to - from);
            let before = out.len();
            piece.values.run(first..last, out);
            if let Some(valid) = piece.valid {
                for i in (first..last).filter(|&i| !valid.get(i)) {
                    out[before + i - first] = T::MISSING;
                }
            }
            from += last - first;
        }
    }

    /// Appends single rows.
    pub(crate) fn pick<T: Target>(&self, rows: &[u32], out: &mut Vec<T>) {
        if let [Piece { values, valid: None }] = self.pieces.as_slice() {
            return values.pick(rows, out);
        }
        out.extend(rows.iter().map(|&row| self.one::<T>(row as usize)));
    }

    fn one<T: Target>(&self, row: usize) -> T {
        let (k, at) = self.place(row);
        let piece = &self.pieces[k];
        match piece.valid {
            Some(valid) if !valid.get(at) => T::MISSING,
            _ => piece.values.one(at),
        }
    }

    /// Every item in turn; `None` where missing.
    pub(crate) fn each<T: Target>(&self) -> impl Iterator<Item = Option<T>> {
        self.pieces.iter().flat_map(|piece| {
            (0..piece.values.len())
                .map(|i| piece.valid.is_none_or(|v| v.get(i)).then(|| piece.values.one(i)))
        })
    }
}
