//! Weights that do not know the song that is judged.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use sinistra_core::belief::next;
use sinistra_core::engine::Engine;
use sinistra_core::foresee::model::ForesightModel;
use sinistra_core::net::Net;

#[path = "../../../core/examples/support/model.rs"]
mod model;

/// The weights of each fold, and which fold does not know which song.
pub struct Learned {
    folder: PathBuf,
    folds: HashMap<String, String>,
    /// What comes next, a model a fold.
    next: HashMap<String, &'static next::NextModel>,
    /// Foresight's: a model a fold, and the songs' folds.
    foresight: Option<(HashMap<String, usize>, Vec<&'static ForesightModel>)>,
}

impl Learned {
    /// From the folder that `tools/hear/train_ear.py` and `train_next.py` wrote,
    /// and, if there is one, `foresight` in it by `tools/foresight/train.py
    /// --folds`.
    ///
    /// # Panics
    /// If it is not there.
    pub fn read(folder: String) -> Self {
        let folder = PathBuf::from(folder);
        let text = std::fs::read_to_string(folder.join("songs.txt")).expect("songs.txt");
        let pair = |line: &str| {
            let (song, fold) = line.split_once(' ')?;
            Some((song.to_owned(), fold.to_owned()))
        };
        let names = ["0", "1", "2", "3", "all"];
        let next = names.iter().filter_map(|fold| {
            let row = floats(&folder.join(fold).join("next.f32"))?;
            Some(((*fold).to_owned(), &*Box::leak(Box::new(read_next(&row)))))
        });
        let next = next.collect();
        let foresight = std::fs::read(folder.join("foresight/folds.json")).ok().map(|folds| {
            let folds: HashMap<String, usize> = serde_json::from_slice(&folds).expect("folds.json");
            let models = (0..5).map(|fold| {
                let path = folder.join(format!("foresight/fold{fold}.json"));
                model::read(&path.to_string_lossy()).expect("a model")
            });
            (folds, models.collect())
        });
        Self { folds: text.lines().filter_map(pair).collect(), folder, next, foresight }
    }

    /// An engine with the weights for a song; `all` where no fold knows it.
    pub fn teach(&self, engine: Engine, song: &str) -> Engine {
        let fold = self.folds.get(song).map_or("all", String::as_str);
        let row = |name: &str| floats(&self.folder.join(fold).join(name));
        let (now, past, bar) = (row("now.f32"), row("past.f32"), row("bar.f32"));
        let foresight = self
            .foresight
            .as_ref()
            .and_then(|(folds, models)| models.get(*folds.get(song)?).copied());
        engine
            .with_ear(|ear| ear.trained(now.as_deref(), past.as_deref(), bar.as_deref()))
            .with_models(foresight, self.next.get(fold).copied())
    }
}

/// The networks of what comes next, in the order of `train_next.py`.
fn read_next(row: &[f32]) -> next::NextModel {
    let mut rest = row;
    let mut take = |n: usize| -> &'static [f32] {
        let (part, later) = rest.split_at(n.min(rest.len()));
        rest = later;
        part.to_vec().leak()
    };
    let mut net = |own: usize, shared: usize, hidden: usize| Net {
        direct: take(own),
        own: take(own * hidden),
        shared: take(shared * hidden),
        bias: take(hidden),
        out: take(hidden),
    };
    next::NextModel { next: net(next::OWN, next::SHARED, 16), together: net(next::SAID, 0, 16) }
}

fn floats(path: &Path) -> Option<Vec<f32>> {
    let bytes = std::fs::read(path).ok()?;
    let float = |b: &[u8]| f32::from_le_bytes([b[0], b[1], b[2], b[3]]);
    Some(bytes.chunks_exact(4).map(float).collect())
}
