//! What was done, to be taken back and done again.

/// Steps that are remembered.
const MOST: usize = 200;

/// Both lists, the last step last.
pub struct UndoHistory<Step> {
    done: Vec<Step>,
    undone: Vec<Step>,
}

impl<Step> Default for UndoHistory<Step> {
    fn default() -> Self {
        Self { done: Vec::new(), undone: Vec::new() }
    }
}

impl<Step> UndoHistory<Step> {
    /// Steps that can be taken back.
    pub fn steps(&self) -> usize {
        self.done.len()
    }

    /// Whether something that was taken back can be done again.
    pub fn can_redo(&self) -> bool {
        !self.undone.is_empty()
    }

    /// A step was done: what was taken back is gone.
    pub fn note(&mut self, step: Step) {
        self.undone.clear();
        self.done.push(step);
        if self.done.len() > MOST {
            self.done.remove(0);
        }
    }

    /// The last step, to be made longer.
    pub fn last_mut(&mut self) -> Option<&mut Step> {
        self.done.last_mut()
    }

    /// Takes the last step back by `back`, which gives what does it again.
    pub fn undo(&mut self, back: impl FnOnce(Step) -> Step) {
        self.undone.extend(self.done.pop().map(back));
    }

    /// Does again by `again`, which gives what takes it back, what was taken back last.
    pub fn redo(&mut self, again: impl FnOnce(Step) -> Step) {
        self.done.extend(self.undone.pop().map(again));
    }
}
