//! The musician, the piano and the scores for a page.
//!
//! One WebAssembly module, used twice: by the audio worklet, which holds a
//! [`live::Live`] and renders blocks, and by a worker, which asks the [`desk`]
//! about charts, files, sheets and rounds. The interface is C's: numbers and
//! bytes in linear memory. No bindings are generated, for a worklet has no text
//! decoder and the page should need no tool that a builder may lack.

#![deny(unsafe_op_in_unsafe_fn)]

mod abi;
pub mod desk;
pub mod live;
