//! The steps shown are those that lead to the figures: what stands before the last `=` is reckoned here again.

use super::json_in;
use super::sample;

/// Reads an expression of `+ − · /`, parentheses and numbers, each with a unit of length or `%` behind it or none.
struct Expression<'a> {
    rest: &'a str,
}

impl Expression<'_> {
    /// Its value; `None` where it holds anything else, such as the letters of a formula.
    fn value(text: &str) -> Option<f64> {
        let mut read = Expression { rest: text };
        let value = read.sum()?;
        read.rest.trim().is_empty().then_some(value)
    }

    fn take(&mut self, word: &str) -> bool {
        let rest = self.rest.trim_start().strip_prefix(word);
        self.rest = rest.unwrap_or(self.rest);
        rest.is_some()
    }

    fn sum(&mut self) -> Option<f64> {
        let mut value = self.product()?;
        loop {
            if self.take("+") {
                value += self.product()?;
            } else if self.take("−") {
                value -= self.product()?;
            } else {
                return Some(value);
            }
        }
    }

    fn product(&mut self) -> Option<f64> {
        let mut value = self.number()?;
        loop {
            if self.take("·") {
                value *= self.number()?;
            } else if self.take("/") {
                value /= self.number()?;
            } else {
                return Some(value);
            }
        }
    }

    fn number(&mut self) -> Option<f64> {
        if self.take("(") {
            let value = self.sum()?;
            return self.take(")").then_some(value);
        }
        let text = self.rest.trim_start();
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).unwrap_or(text.len());
        let value: f64 = text[..end].parse().ok()?;
        self.rest = &text[end..];
        // In µm; a share in one.
        let units = [("mm", 1000.0), ("µm", 1.0), ("in", 25_400.0), ("%", 0.01), ("(blank)", 1.0)];
        let unit = units.iter().find(|(unit, _)| self.take(unit));
        Some(unit.map_or(value, |(_, factor)| value * factor))
    }
}

/// The value a step ends with and half a unit of its last place.
fn result(text: &str) -> Option<(f64, f64)> {
    let mut read = Expression { rest: text };
    let value = read.number()?;
    let digits: String =
        text.trim_start().chars().take_while(|c| c.is_ascii_digit() || *c == '.' || *c == '-').collect();
    let places = digits.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let plain: f64 = digits.parse().ok()?;
    let factor = if plain == 0.0 { 1.0 } else { value / plain };
    Some((value, 0.5 * factor * 10.0_f64.powi(-i32::try_from(places).ok()?)))
}

#[test]
fn the_steps_lead_to_the_figures() {
    let (mut wrong, mut all) = (Vec::new(), 0);
    for (line, least) in [
        (
            r#"strength nitric --sample "5 mL" --titrant "1.02 N" --burette-from "1.05 mL" --burette-to "20.00 mL" --blank "0.15 mL" --basis "70 %" --density "1.134 g/mL""#,
            5,
        ),
        (
            r#"strength citric --sample "10 mL" --titrant "1.01 N" --volume "8.8 mL" --blank "0.1 mL" --basis anhydrous --density "1.030 g/mL""#,
            3,
        ),
        (
            r#"strength dichromate --sample "2 mL" --titrant "0.1 N" --volume "11.2 mL" --basis dihydrate --density "1.10 g/mL""#,
            2,
        ),
        (
            r#"strength chloride --sample "100 mL" --titrant "0.0141 N" --volume "1.32 mL" --blank "0.20 mL""#,
            2,
        ),
        (r#"strength by-density --density "1.0810 g/mL" --temperature "20 °C""#, 1),
        (r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%""#, 2),
        (r#"make-up --bath "400 L" --strength "48 vol%" --target "30 vol%""#, 2),
        (r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%" --tank "410 L""#, 2),
        (r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%" --fill-to "500 L""#, 2),
        (r#"make-up --bath "400 L" --strength "48 vol%" --target "30 vol%" --fill-to "410 L""#, 2),
        (r#"solids --conductivity "120 uS/cm" --factor 0.64"#, 1),
        (
            r#"removal --grade 316L --current "12.5 A" --time "10 min" --area "1 ft2" --efficiency "82 %" --mass-before "10.5 g" --mass-after "10.1 g" --weighed-area "40 in2" --size-before "0.5000 in" --size-after "0.5008 in" --across bore"#,
            3,
        ),
        (
            r#"allowance --across outside --size "12.000 mm" --tolerance "0.020 mm" --removal-from "8 um" --removal-to "15 um""#,
            2,
        ),
        (
            r#"allowance --across bore --min "0.5000 in" --max "0.5020 in" --removal-from "8 um" --removal-to "15 um" --digits 4"#,
            0,
        ),
        (
            r#"allowance --across one-side --min "11.980 mm" --max "12.020 mm" --removal-from "8 um" --removal-to "15 um""#,
            2,
        ),
        (r#"allowance --across thread --removal-from "0.0002 in" --removal-to "0.0004 in""#, 2),
        (r#"sampling B602 level II --lot 500"#, 1),
        (
            r#"chance --reading "14 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "0.9 mm" --k 3"#,
            2,
        ),
        (r#"pren --composition "Cr 25, Mo 3.3, N 0.25, W 0.6" --formula tungsten"#, 1),
        (r#"pren --grade 2205"#, 2),
        (
            r#"ratio --method XPS --elements "C 22, O 51, Cr 14.5, Fe 9.5, Ni 3" --oxide "Cr 12.4, Fe 6.1" --metal "Cr 2.1, Fe 3.4""#,
            2,
        ),
        (r#"roughness traces/L-26-0553-1.x3p --before traces/L-26-0553-before.csv --form PR-1-text"#, 1),
    ] {
        let report = json_in(&sample(), line);
        let mut reckoned = 0;
        let steps =
            report["how"].as_array().unwrap().iter().flat_map(|step| step.as_str().unwrap().split(';'));
        for step in steps {
            let parts: Vec<&str> = step.split(" = ").collect();
            let [.., expression, last] = parts.as_slice() else { continue };
            let expression = expression.split_once(": ").map_or(*expression, |(_, rest)| rest);
            let (Some(found), Some((shown, half))) = (Expression::value(expression), result(last)) else {
                continue;
            };
            // Charge and equivalent weight are shown to two places, so that the last place may differ.
            let slack = if step.contains("EW") { 0.001 * shown } else { 1e-9 };
            // What is rounded up or down may be off by a whole place.
            let place = if step.contains("rounded") { 2.0 * half } else { half };
            reckoned += 1;
            if (found - shown).abs() > place + slack {
                wrong.push(format!("{line}\n  {step}: {found}"));
            }
        }
        if reckoned < least {
            wrong.push(format!("{line}: only {reckoned} steps could be reckoned of {:#}", report["how"]));
        }
        all += reckoned;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(all > 40, "{all}");
}
