//! The integration tests: one binary, which links once.

mod attacks;
mod canonical_vectors;
mod damaged;
mod demo;
mod deviations;
mod faults;
mod interrupted;
mod journeys;
mod layers;
mod limits;
mod merkle_vectors;
mod outside;
mod packs;
mod pdf_page;
mod register;
mod removal;
mod repeatable;
mod samples;
mod seal_vectors;
mod support;
mod tamper;
mod transcripts;
mod validity;
