//! Counts the instructions of single blocks.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use sinistra_tests::modes::EngineMode;

/// What a block cost.
#[derive(Clone, Copy, Debug)]
pub struct CountedBlock {
    /// Its number.
    pub number: usize,
    /// Instructions.
    pub instructions: u64,
}

/// Reads what callgrind writes after each call of [`counted_block`].
pub struct CallgrindCounts {
    folder: PathBuf,
    written: u32,
}

/// Callgrind counts in here, from nothing, and writes it down on the way out: its
/// options name this function (`xtask/src/dearest.rs`).
#[inline(never)]
pub fn counted_block(play: &mut dyn FnMut()) {
    play();
    black_box(()); // else this is a jump, and callgrind sees no way out
}

impl CallgrindCounts {
    /// Callgrind writes to `folder`.
    pub fn of_callgrind(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), written: 0 }
    }

    /// The instructions of a block, and the file that says where they went.
    fn count(&mut self, play: &mut dyn FnMut()) -> (u64, PathBuf) {
        counted_block(play);
        self.written += 1;
        let path = self.folder.join(format!("blocks.{}", self.written));
        let text = std::fs::read_to_string(&path).expect("callgrind's file");
        let total = text.lines().find_map(|line| line.strip_prefix("totals: ")).expect("a total");
        (total.trim().parse().expect("a number"), path)
    }

    /// The blocks that take longest, so many, with what they cost.
    pub fn dearest(&mut self, mode: &EngineMode, most: usize) -> Vec<CountedBlock> {
        self.dearest_after(mode, 0, most)
    }

    /// The same of those from the block `first` on.
    pub fn dearest_after(
        &mut self,
        mode: &EngineMode,
        first: usize,
        most: usize,
    ) -> Vec<CountedBlock> {
        let mut times = vec![Duration::MAX; mode.blocks()];
        for _ in 0..2 {
            mode.play(|n, play| {
                let start = Instant::now();
                play();
                times[n] = start.elapsed().min(times[n]);
            });
        }
        let mut longest: Vec<usize> = (first..times.len()).collect();
        longest.sort_unstable_by_key(|n| std::cmp::Reverse(times[*n]));
        let longest: std::collections::BTreeSet<_> = longest.into_iter().take(most).collect();
        let mut counted = Vec::new();
        mode.play(|number, play| {
            if longest.contains(&number) {
                let (instructions, path) = self.count(play);
                counted.push(CountedBlock { number, instructions });
                std::fs::remove_file(path).expect("callgrind's file");
            } else {
                play();
            }
        });
        counted
    }

    /// Keeps where a block's instructions went, under a name.
    pub fn keep(&mut self, mode: &EngineMode, number: usize, name: &str) {
        mode.play(|n, play| {
            if n == number {
                let (_, path) = self.count(play);
                let name = name.replace([' ', ','], "-");
                let kept = self.folder.join(format!("{name}.callgrind"));
                std::fs::rename(path, kept).expect("callgrind's file");
            } else {
                play();
            }
        });
    }
}
