//! Features are written a column at a time, in one fixed order.

/// 1 for yes.
pub fn yes(is: bool) -> f32 {
    if is { 1.0 } else { 0.0 }
}

/// A table with a row a candidate and `F` columns, filled from the left.
#[derive(Debug)]
pub struct Columns<'a, const F: usize> {
    rows: &'a mut [[f32; F]],
    next: usize,
}

impl<'a, const F: usize> Columns<'a, F> {
    /// Nothing is written yet; what was there stays until it is.
    pub fn new(rows: &'a mut [[f32; F]]) -> Self {
        Self { rows, next: 0 }
    }

    /// The next column: a value for each candidate.
    pub fn column(&mut self, value: impl Fn(usize) -> f32) {
        for (candidate, row) in self.rows.iter_mut().enumerate() {
            if let Some(cell) = row.get_mut(self.next) {
                *cell = value(candidate);
            }
        }
        self.next += 1;
    }

    /// How many columns there are by now.
    pub fn written(&self) -> usize {
        self.next
    }
}

/// A row of features of the moment, filled from the left.
#[derive(Debug)]
pub struct Moment<'a> {
    cells: &'a mut [f32],
    next: usize,
}

impl<'a> Moment<'a> {
    /// Nothing is written yet.
    pub fn new(cells: &'a mut [f32]) -> Self {
        Self { cells, next: 0 }
    }

    /// The next value.
    pub fn push(&mut self, value: f32) {
        if let Some(cell) = self.cells.get_mut(self.next) {
            *cell = value;
        }
        self.next += 1;
    }

    /// `of` values that are 0, but for a 1 at `which`.
    pub fn one_of(&mut self, which: Option<usize>, of: usize) {
        for n in 0..of {
            self.push(if which == Some(n) { 1.0 } else { 0.0 });
        }
    }

    /// How many values there are by now.
    pub fn written(&self) -> usize {
        self.next
    }
}
