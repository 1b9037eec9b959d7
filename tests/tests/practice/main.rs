//! The practice room: what is wrong in a take is found, and nothing else.

mod distort;
mod exercise;
mod figures;
mod found;
mod lessons;
mod manners;
mod people;
mod random;
mod wholes;
