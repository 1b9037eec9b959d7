//! Reads what was learned from songs: the models in `core/models`, each with
//! its card in plain words.
//!
//! `tools/model.py` says what a file looks like and writes it. All reading is
//! done by the compiler, which refuses a file that is not as it should be; the
//! program holds nothing but the numbers.

/// A reader of arrays in a row. It panics, which is when it is compiled, unless
/// the file has an array of this name, kind and number of values.
macro_rules! row {
    ($reader:ident, $kind:ty, $name:literal) => {
        /// The array `name` of a model file in a row, whatever its shape there.
        pub const fn $reader<const N: usize>(file: &[u8], name: &str) -> [$kind; N] {
            let values = values(file, name, $name);
            assert!(values.len() == N, "the array is of another length");
            let (mut row, mut n) = ([0 as $kind; N], 0);
            while n < N {
                row[n] = <$kind>::from_le_bytes(values[n]);
                n += 1;
            }
            row
        }
    };
}

row!(f32s, f32, b"f32");
row!(u16s, u16, b"u16");
row!(u8s, u8, b"u8");

/// The same of arrays in rows.
macro_rules! rows {
    ($reader:ident, $kind:ty, $name:literal) => {
        /// The array `name` of a model file in rows of `W`.
        pub const fn $reader<const N: usize, const W: usize>(
            file: &[u8],
            name: &str,
        ) -> [[$kind; W]; N] {
            let values = values(file, name, $name);
            assert!(values.len() == N * W, "the array is of another length");
            let (mut rows, mut n) = ([[0 as $kind; W]; N], 0);
            while n < N * W {
                rows[n / W][n % W] = <$kind>::from_le_bytes(values[n]);
                n += 1;
            }
            rows
        }
    };
}

rows!(f32_rows, f32, b"f32");
rows!(i8_rows, i8, b"i8");

/// The array `name` of bytes in rows of `W`, where it lies in the file. It panics
/// unless there is one.
pub const fn u8_rows<'a, const W: usize>(file: &'a [u8], name: &str) -> &'a [[u8; W]] {
    values(file, name, b"u8")
}

/// The array `name` of this kind in pieces of `W` bytes, where it lies in the file.
const fn values<'a, const W: usize>(file: &'a [u8], name: &str, kind: &[u8]) -> &'a [[u8; W]] {
    let (from, length) = place(file, name.as_bytes(), kind);
    let (values, rest) = file.split_at(from).1.split_at(length).0.as_chunks();
    assert!(rest.is_empty(), "the array is of another length");
    values
}

/// The network `name` of a model file: so many features of a candidate, of the
/// moment, and hidden units.
macro_rules! net {
    ($file:expr, $name:literal, $own:expr, $shared:expr, $hidden:expr) => {{
        use crate::learned::f32s;
        static DIRECT: [f32; $own] = f32s($file, concat!($name, "_direct"));
        static OF_OWN: [f32; $own * $hidden] = f32s($file, concat!($name, "_own"));
        static OF_SHARED: [f32; $shared * $hidden] = f32s($file, concat!($name, "_shared"));
        static BIAS: [f32; $hidden] = f32s($file, concat!($name, "_bias"));
        static OUT: [f32; $hidden] = f32s($file, concat!($name, "_out"));
        crate::net::Net {
            direct: &DIRECT,
            own: &OF_OWN,
            shared: &OF_SHARED,
            bias: &BIAS,
            out: &OUT,
        }
    }};
}
pub(crate) use net;

/// Where the array begins, and how many bytes it has.
const fn place(file: &[u8], name: &[u8], kind: &[u8]) -> (usize, usize) {
    const NOWHERE: usize = usize::MAX;
    let (mut line, mut before, mut found) = (0, 0, (NOWHERE, 0));
    loop {
        let end = line_end(file, line);
        if is(file, line, end, b"end") {
            assert!(end + 1 + before == file.len(), "the model file is cut short, or too long");
            assert!(found.0 != NOWHERE, "the model file has no array of this name");
            return (end + 1 + found.0, found.1);
        }
        let (word, after) = word(file, line);
        if is(file, line, word, b"array") {
            let (name_end, kind_at) = self::word(file, after);
            let (kind_end, mut at) = self::word(file, kind_at);
            let mut length = match file[kind_at] {
                b'f' => 4,
                b'u' if file[kind_at + 1] == b'1' => 2,
                _ => 1,
            };
            while at < end {
                let (end, next) = self::word(file, at);
                length *= number(file, at, end);
                at = next;
            }
            if is(file, after, name_end, name) {
                assert!(is(file, kind_at, kind_end, kind), "the array is of another kind");
                found = (before, length);
            }
            before += length;
        }
        line = end + 1;
    }
}

const fn line_end(file: &[u8], mut at: usize) -> usize {
    while file[at] != b'\n' {
        at += 1;
    }
    at
}

/// Where the word at `at` ends, and where the next one begins (at the end of
/// the line, or later, if there is none).
const fn word(file: &[u8], mut at: usize) -> (usize, usize) {
    while file[at] != b' ' && file[at] != b'\n' {
        at += 1;
    }
    (at, at + 1)
}

const fn is(file: &[u8], from: usize, to: usize, text: &[u8]) -> bool {
    let mut n = 0;
    while n < text.len() && from + n < to && file[from + n] == text[n] {
        n += 1;
    }
    n == text.len() && from + n == to
}

const fn number(file: &[u8], from: usize, to: usize) -> usize {
    let (mut number, mut at) = (0, from);
    while at < to {
        assert!(file[at].is_ascii_digit(), "a length that is no number");
        number = 10 * number + (file[at] - b'0') as usize;
        at += 1;
    }
    number
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &[u8] = b"Sinistra model, version 1\nname x\narray end u8 2\narray a f32 2 1\n\
        array b i8 1\narray bc u16 2\nseed 0\nend\n\x07\x08\x00\x00\x80\x3f\x00\x00\x00\xbf\xff\
        \x01\x00\x00\x02";

    #[test]
    fn arrays_are_found_by_their_names() {
        assert_eq!(u8s::<2>(FILE, "end"), [7, 8]);
        assert_eq!(f32s::<2>(FILE, "a"), [1.0, -0.5]);
        assert_eq!(i8_rows::<1, 1>(FILE, "b"), [[-1]]);
        assert_eq!(u8_rows(FILE, "end"), [[7], [8]]);
    }

    #[test]
    fn what_is_not_as_it_should_be_is_refused() {
        let refused = |read: fn() -> usize| std::panic::catch_unwind(read).is_err();
        assert!(refused(|| u8s::<3>(FILE, "end").len()), "another length");
        assert!(refused(|| u8s::<1>(FILE, "b").len()), "another kind");
        assert!(refused(|| u8s::<1>(FILE, "c").len()), "no such name");
        assert!(refused(|| u8_rows::<3>(FILE, "end").len()), "other rows");
        assert!(refused(|| u8s::<2>(&FILE[..FILE.len() - 1], "end").len()), "cut short");
    }

    #[test]
    fn every_model_says_where_it_comes_from_and_has_its_card() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("models");
        let mut models = 0;
        for path in std::fs::read_dir(folder).expect("the models").map(|f| f.expect("one").path()) {
            if path.extension().is_none_or(|end| end != "model") {
                continue;
            }
            models += 1;
            assert!(path.with_extension("md").exists(), "a card for {}", path.display());
            let file = std::fs::read(&path).expect("the model");
            let end = file.windows(5).position(|five| five == b"\nend\n").expect("an end");
            let head = std::str::from_utf8(&file[..end]).expect("text");
            for line in ["name ", "array ", "seed ", "data ", "made ", "held-out "] {
                let told = head.lines().filter_map(|l| l.strip_prefix(line)).next();
                assert!(told.is_some_and(|told| !told.is_empty()), "{}: {line}", path.display());
            }
        }
        assert!(models > 0);
    }
}
