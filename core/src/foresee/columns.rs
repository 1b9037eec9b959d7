//! Features are written a column at a time, in one fixed order.

/// 1 for yes.
pub fn yes(is: bool) -> f32 {
    if is { 1.0 } else { 0.0 }
}

/// A table with a column a feature, `C` candidates long, filled from the left.
#[derive(Debug)]
pub struct Columns<'a, const C: usize> {
    columns: &'a mut [[f32; C]],
    next: usize,
}

impl<'a, const C: usize> Columns<'a, C> {
    /// Nothing is written yet; what was there stays until it is.
    pub fn new(columns: &'a mut [[f32; C]]) -> Self {
        Self { columns, next: 0 }
    }

    /// The next column: a value for each candidate.
    pub fn column(&mut self, values: [f32; C]) {
        if let Some(column) = self.columns.get_mut(self.next) {
            *column = values;
        }
        self.next += 1;
    }

    /// The next column: 1 for one candidate, if that, and 0 for all others.
    pub fn one(&mut self, which: Option<usize>) {
        self.one_of(which, 1.0);
    }

    /// The same with another value than 1.
    pub fn one_of(&mut self, which: Option<usize>, value: f32) {
        if let Some(column) = self.columns.get_mut(self.next) {
            *column = [0.0; C];
            if let Some(cell) = which.and_then(|which| column.get_mut(which)) {
                *cell = value;
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
pub struct MomentRow<'a> {
    cells: &'a mut [f32],
    next: usize,
}

impl<'a> MomentRow<'a> {
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
