//! The integration tests: one binary, which links once.

mod attacks;
mod canonical_vectors;
mod damaged;
mod demo;
mod deviations;
mod faults;
mod interrupted;
mod journal;
mod journeys;
mod layers;
mod limits;
mod looking_back;
mod merkle_vectors;
mod outside;
mod packs;
mod pdf_page;
mod pieces;
mod register;
mod removal;
mod repeatable;
mod samples;
mod seal_vectors;
mod support;
mod tamper;
mod transcripts;
mod validity;
