//! Reads tables and weights that the training script wrote as JSON.

use serde::Deserialize;
use sinistra_core::foresee::model::ForesightModel;
use sinistra_core::foresee::odds::OddsTable;
use sinistra_core::net::Net;

#[derive(Deserialize, Default)]
struct Weights {
    direct: Vec<f32>,
    own: Vec<f32>,
    shared: Vec<f32>,
    bias: Vec<f32>,
    out: Vec<f32>,
}

#[derive(Deserialize)]
struct ModelFile {
    degrees: Vec<f32>,
    after_one: Vec<u8>,
    after_two: Vec<u8>,
    after_three: Vec<u8>,
    in_key: Vec<u8>,
    in_key_two: Vec<u8>,
    #[serde(default)]
    roots: Weights,
    #[serde(default)]
    times: Weights,
}

fn net(weights: Weights) -> Net {
    Net {
        direct: weights.direct.leak(),
        own: weights.own.leak(),
        shared: weights.shared.leak(),
        bias: weights.bias.leak(),
        out: weights.out.leak(),
    }
}

/// The model in the file at `path`, kept until the program ends.
pub fn read(path: &str) -> Result<&'static ForesightModel, Box<dyn std::error::Error>> {
    let written: ModelFile = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    Ok(Box::leak(Box::new(ForesightModel {
        odds: OddsTable {
            degrees: written.degrees.leak(),
            after_one: written.after_one.leak(),
            after_two: written.after_two.leak(),
            after_three: written.after_three.leak(),
            in_key: written.in_key.leak(),
            in_key_two: written.in_key_two.leak(),
        },
        roots: net(written.roots),
        times: net(written.times),
    })))
}
