//! How a titration is worked out, in words: the formula, the readings put in, the figure.

use crate::solution::answer::CHLORIDE;
use crate::solution::answer::Measure;
use crate::solution::answer::NITRIC;
use crate::solution::answer::Strength;
use crate::solution::answer::crystals;
use crate::solution::fault::SolutionError;
use crate::solution::titration::Analyte;
use crate::solution::titration::Basis;
use crate::solution::titration::Titration;

impl Titration {
    /// One line for the titrant used and one for each strength of [`Titration::answer`]. The figure at its
    /// end is rounded once, from the readings.
    ///
    /// Errors: those of [`Titration::answer`].
    pub fn steps(&self) -> Result<Vec<String>, SolutionError> {
        let answer = self.answer()?;
        let used = self.net_volume()?;
        let mut steps = vec![match (&self.burette, &self.blank) {
            (Some(burette), Some(blank)) => {
                let (from, to) = (burette.from.value(), burette.to.value());
                format!("V = {to} − {from} − {} (blank) = {used} mL of titrant", blank.value())
            }
            (Some(burette), None) => {
                format!("V = {} − {} = {used} mL of titrant", burette.to.value(), burette.from.value())
            }
            (None, Some(blank)) => {
                let read = self.volume.map(|v| v.value()).unwrap_or_default();
                format!("V = {read} − {} (blank) = {used} mL of titrant", blank.value())
            }
            (None, None) => format!("V = {used} mL of titrant"),
        }];
        let (normality, sample) = (self.titrant.value(), self.sample.value());
        steps.push(format!("N = {normality} mol/L, normality of the titrant; S = {sample} mL of bath"));
        steps.extend(
            answer.strengths.iter().map(|strength| self.step(strength, &format!("{used} · {normality}"))),
        );
        Ok(steps)
    }

    /// The line of one strength; `charge` is `V · N` with the numbers put in.
    fn step(&self, strength: &Strength, charge: &str) -> String {
        let (sample, figure) = (self.sample.value(), strength.value);
        let density = self.density.map(|d| d.value()).unwrap_or_default();
        let concentrate = self.basis.and_then(Basis::concentrate).unwrap_or_default();
        let (mass, equivalents) = crystals(self.what, self.basis);
        match (self.what, strength.measure) {
            (Analyte::Chloride, _) => {
                format!("mg/L = V · N · {CHLORIDE} / S = {charge} · {CHLORIDE} / {sample} = {figure}")
            }
            (Analyte::NitricAcid, Measure::MolePerLitre) => {
                format!("mol/L = V · N / S = {charge} / {sample} = {figure}")
            }
            (Analyte::NitricAcid, Measure::VolumePercent) => format!(
                "vol% = 100 · V · N / (S · M) = 100 · {charge} / ({sample} · {concentrate}) = {figure}; \
                 M = {concentrate} mol/L is the acid that counts as 100 vol%"
            ),
            (Analyte::NitricAcid, Measure::MassPercent) => format!(
                "wt% = V · N · {NITRIC} / (10 · S · ρ) = {charge} · {NITRIC} / (10 · {sample} · \
                {density}) = {figure}"
            ),
            (Analyte::NitricAcid, _) => format!(
                "g/L = V · N · {NITRIC} / S = {charge} · {NITRIC} / {sample} = {figure}, by {NITRIC} g/mol"
            ),
            (_, Measure::MassPercent) => format!(
                "wt% = V · N · E / (10 · S · ρ) = {charge} · ({mass} / {equivalents}) / (10 · {sample} · \
                {density}) = {figure}"
            ),
            (_, Measure::GramPer100Millilitres) => format!(
                "g/100 mL = V · N · E / (10 · S) = {charge} · ({mass} / {equivalents}) / (10 · {sample}) \
                = {figure}; \
                 E = {mass} / {equivalents} g is the equivalent"
            ),
            (_, _) => format!(
                "g/L = V · N · E / S = {charge} · ({mass} / {equivalents}) / {sample} = {figure}; \
                 E = {mass} / {equivalents} g is the equivalent"
            ),
        }
    }
}
