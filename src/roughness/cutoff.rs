//! Which cut-off a measurement takes: by the order, or by a table of a standard.
//!
//! Tables are data, with edition and with how we know each row. Ranges leave out their lower end and hold
//! their upper end, as the standards print them (`0.1 < Ra ≤ 2`), so a value on a border takes the shorter
//! cut-off.
//!
//! Editions differ on purpose: ISO 4288:1996 looks at what is measured, ISO 21920-3:2021 at the upper
//! tolerance limit of the order, and their Rz ranges are not the same.

use std::cmp::Ordering;

use rust_decimal::Decimal;

use crate::units::Dimension;
use crate::units::Quantity;
use crate::units::Unit;

/// How a figure of a table is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Read in secondary texts that quote the standard.
    Read,
    /// Recalled.
    Recalled,
}

/// By what a cut-off is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutoffRule {
    /// ISO 4288:1996, profiles that do not repeat, by the Ra found.
    Iso4288Ra,
    /// ISO 4288:1996, profiles that do not repeat, by the Rz found.
    Iso4288Rz,
    /// ISO 4288:1996, profiles that repeat, by the mean width of their elements RSm.
    Iso4288RSm,
    /// ISO 21920-3:2021, by the upper tolerance limit of Ra.
    Iso21920Ra,
    /// ISO 21920-3:2021, by the upper tolerance limit of Rz.
    Iso21920Rz,
    /// ASME B46.1, profiles that do not repeat, by the Ra found in µin.
    AsmeRa,
}

/// One row of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// Values above this; `None` where the row has no lower end.
    pub above: Option<Quantity>,
    /// Values up to this and at it; `None` where the row has no upper end.
    pub to: Option<Quantity>,
    /// The cut-off, which is the sampling length.
    pub cutoff: Quantity,
    /// The evaluation length: five sampling lengths.
    pub evaluation: Quantity,
    /// How the row is known.
    pub basis: Basis,
}

/// A cut-off and why it was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The cut-off in mm.
    pub cutoff: Quantity,
    /// The evaluation length in mm: five cut-offs.
    pub evaluation: Quantity,
    /// Which row was taken and why, in words.
    pub why: String,
    /// How the row is known; `None` where the order says it.
    pub basis: Option<Basis>,
    /// Whether the value lies on the border of two rows.
    pub on_border: bool,
    /// What to look out for, in words.
    pub warning: Option<String>,
}

/// Why no cut-off can be chosen.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CutoffError {
    /// Not a length.
    #[error("{found} cannot choose a cut-off: expected a length, as in `0.38 µm`, `15 µin` or `0.8 mm`")]
    NotALength {
        /// As found.
        found: String,
    },
    /// Nought or less.
    #[error("{found} cannot choose a cut-off: expected a length above nought")]
    NotPositive {
        /// As found.
        found: String,
    },
    /// Outside the table.
    #[error("{found} is outside the table of {table}, which holds {range}: let the order name the cut-off")]
    Outside {
        /// As found.
        found: String,
        /// The table.
        table: &'static str,
        /// What it holds.
        range: String,
    },
}

/// A row as written below: lower and upper end, digits after the point, cut-off in hundredths of a mm.
type Written = (Option<i64>, Option<i64>, u32, i64, Basis);

use Basis::Read;
use Basis::Recalled;

/// ISO 4288:1996 by Ra, µm. The outer ends were read in brackets.
const ISO_4288_RA: [Written; 5] = [
    (Some(6), Some(20), 3, 8, Read),
    (Some(20), Some(100), 3, 25, Read),
    (Some(100), Some(2_000), 3, 80, Read),
    (Some(2_000), Some(10_000), 3, 250, Read),
    (Some(10_000), Some(80_000), 3, 800, Read),
];
/// ISO 4288:1996 by Rz, µm.
const ISO_4288_RZ: [Written; 5] = [
    (Some(25), Some(100), 3, 8, Read),
    (Some(100), Some(500), 3, 25, Read),
    (Some(500), Some(10_000), 3, 80, Recalled),
    (Some(10_000), Some(50_000), 3, 250, Recalled),
    (Some(50_000), Some(200_000), 3, 800, Recalled),
];
/// ISO 4288:1996 by RSm, mm.
const ISO_4288_RSM: [Written; 5] = [
    (Some(13), Some(40), 3, 8, Read),
    (Some(40), Some(130), 3, 25, Read),
    (Some(130), Some(400), 3, 80, Read),
    (Some(400), Some(1_300), 3, 250, Read),
    (Some(1_300), Some(4_000), 3, 800, Read),
];
/// ISO 21920-3:2021 by the upper limit of Ra, µm: the borders of the older edition, which did not change.
const ISO_21920_RA: [Written; 5] = [
    (None, Some(20), 3, 8, Recalled),
    (Some(20), Some(100), 3, 25, Recalled),
    (Some(100), Some(2_000), 3, 80, Recalled),
    (Some(2_000), Some(10_000), 3, 250, Recalled),
    (Some(10_000), None, 3, 800, Recalled),
];
/// ISO 21920-3:2021 by the upper limit of Rz, µm.
const ISO_21920_RZ: [Written; 5] = [
    (None, Some(160), 3, 8, Read),
    (Some(160), Some(800), 3, 25, Read),
    (Some(800), Some(16_000), 3, 80, Read),
    (Some(16_000), Some(80_000), 3, 250, Read),
    (Some(80_000), None, 3, 800, Read),
];
/// ASME B46.1 by Ra, µin.
const ASME_RA: [Written; 5] = [
    (None, Some(8), 1, 8, Read),
    (Some(8), Some(40), 1, 25, Read),
    (Some(40), Some(800), 1, 80, Read),
    (Some(800), Some(4_000), 1, 250, Read),
    (Some(4_000), None, 1, 800, Read),
];

impl CutoffRule {
    /// All tables.
    pub const ALL: [CutoffRule; 6] = [
        CutoffRule::Iso4288Ra,
        CutoffRule::Iso4288Rz,
        CutoffRule::Iso4288RSm,
        CutoffRule::Iso21920Ra,
        CutoffRule::Iso21920Rz,
        CutoffRule::AsmeRa,
    ];

    /// Standard, edition and what it looks at.
    pub const fn name(self) -> &'static str {
        match self {
            CutoffRule::Iso4288Ra => "ISO 4288:1996 by Ra measured",
            CutoffRule::Iso4288Rz => "ISO 4288:1996 by Rz measured",
            CutoffRule::Iso4288RSm => "ISO 4288:1996 by RSm (a profile that repeats)",
            CutoffRule::Iso21920Ra => "ISO 21920-3:2021 by the upper limit of Ra",
            CutoffRule::Iso21920Rz => "ISO 21920-3:2021 by the upper limit of Rz",
            CutoffRule::AsmeRa => "ASME B46.1 by Ra measured, in µin",
        }
    }

    /// The rows, from the shortest cut-off on.
    pub fn rows(self) -> [Row; 5] {
        let (written, unit) = match self {
            CutoffRule::Iso4288Ra => (ISO_4288_RA, Unit::Micrometre),
            CutoffRule::Iso4288Rz => (ISO_4288_RZ, Unit::Micrometre),
            CutoffRule::Iso4288RSm => (ISO_4288_RSM, Unit::Millimetre),
            CutoffRule::Iso21920Ra => (ISO_21920_RA, Unit::Micrometre),
            CutoffRule::Iso21920Rz => (ISO_21920_RZ, Unit::Micrometre),
            CutoffRule::AsmeRa => (ASME_RA, Unit::Microinch),
        };
        written.map(|(above, to, places, cutoff, basis)| {
            let end = |digits: i64| Quantity::new(Decimal::new(digits, places).normalize(), unit);
            Row {
                above: above.map(end),
                to: to.map(end),
                cutoff: hundredths(cutoff),
                evaluation: hundredths(cutoff.saturating_mul(5)),
                basis,
            }
        })
    }

    /// Whether it looks at Ra.
    const fn by_ra(self) -> bool {
        matches!(self, CutoffRule::Iso4288Ra | CutoffRule::Iso21920Ra | CutoffRule::AsmeRa)
    }

    /// The cut-off this table gives for `value`, in any unit of length, compared exactly.
    ///
    /// # Errors
    /// Where the value is no length above nought, or the table does not hold it.
    pub fn choose(self, value: &Quantity) -> Result<Choice, CutoffError> {
        let found = value.to_string();
        positive(value)?;
        let above = |end: &Quantity| value.compare(end) == Some(Ordering::Greater);
        let reaches = |end: &Quantity| matches!(value.compare(end), Some(Ordering::Less | Ordering::Equal));
        let rows = self.rows();
        let row = rows
            .iter()
            .find(|row| row.above.is_none_or(|end| above(&end)) && row.to.is_none_or(|end| reaches(&end)));
        let Some(row) = row else {
            return Err(CutoffError::Outside { found, table: self.name(), range: held(&rows) });
        };
        let on_border = rows
            .iter()
            .any(|other| other.above.is_some_and(|end| value.compare(&end) == Some(Ordering::Equal)));
        let mut why = format!("{}: {found} lies in the row {}", self.name(), range(row.above, row.to));
        if on_border {
            why.push_str(
                "; it is the upper end of the row, which belongs to it, so the shorter cut-off is taken",
            );
        }
        let tenth = Quantity::new(Decimal::new(1, 1), Unit::Micrometre);
        let fine = self.by_ra() && matches!(value.compare(&tenth), Some(Ordering::Less | Ordering::Equal));
        let warning = fine.then(|| {
            "at Ra 0.1 µm (about 4 µin) and below the default cut-off moves from 0.8 mm to 0.25 mm or \
            less: values from \
             before and after polishing compare only where the same cut-off was used"
                .to_owned()
        });
        Ok(Choice {
            cutoff: row.cutoff,
            evaluation: row.evaluation,
            why,
            basis: Some(row.basis),
            on_border,
            warning,
        })
    }
}

/// The cut-off an order names.
///
/// # Errors
/// Where it is no length above nought, or more than 1 m.
pub fn ordered(cutoff: &Quantity) -> Result<Choice, CutoffError> {
    positive(cutoff)?;
    let found = cutoff.to_string();
    let outside =
        || CutoffError::Outside { found: found.clone(), table: "cut-offs", range: "at most 1000 mm".into() };
    let micrometres =
        super::micrometres(cutoff).filter(|um| *um <= Decimal::from(1_000_000)).ok_or_else(outside)?;
    let millimetres = micrometres.checked_div(Decimal::ONE_THOUSAND).ok_or_else(outside)?.normalize();
    let five = millimetres.checked_mul(Decimal::from(5)).ok_or_else(outside)?.normalize();
    let usual = CutoffRule::Iso4288Ra.rows().iter().any(|row| row.cutoff.value() == millimetres);
    let warning = (!usual).then(|| {
        format!(
            "{found} is none of the usual cut-offs 0.08, 0.25, 0.8, 2.5 and 8 mm: few gauges can be set to it"
        )
    });
    Ok(Choice {
        cutoff: Quantity::new(millimetres, Unit::Millimetre),
        evaluation: Quantity::new(five, Unit::Millimetre),
        why: format!("the order names {found}"),
        basis: None,
        on_border: false,
        warning,
    })
}

/// A length above nought.
fn positive(value: &Quantity) -> Result<(), CutoffError> {
    if value.dimension() != Dimension::Length {
        return Err(CutoffError::NotALength { found: value.to_string() });
    }
    if value.value() <= Decimal::ZERO {
        return Err(CutoffError::NotPositive { found: value.to_string() });
    }
    Ok(())
}

fn hundredths(mm: i64) -> Quantity {
    Quantity::new(Decimal::new(mm, 2).normalize(), Unit::Millimetre)
}

/// `above 0.1 µm up to 2 µm`.
fn range(above: Option<Quantity>, to: Option<Quantity>) -> String {
    match (above, to) {
        (Some(above), Some(to)) => format!("above {above} up to {to}"),
        (Some(above), None) => format!("above {above}"),
        (None, Some(to)) => format!("up to {to}"),
        (None, None) => "of all values".to_owned(),
    }
}

/// What all rows hold together.
fn held(rows: &[Row]) -> String {
    range(rows.first().and_then(|row| row.above), rows.last().and_then(|row| row.to))
}

/// What ISO 3274:1996 asks of the trace for a cut-off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StylusRow {
    /// Cut-off λc in µm.
    pub cutoff: Decimal,
    /// Short-wave cut-off λs in µm (read).
    pub short: Decimal,
    /// Greatest spacing of points in µm (recalled).
    pub spacing: Decimal,
    /// Tip radius in µm (read).
    pub tip: &'static str,
}

/// The row of ISO 3274:1996 for a cut-off of `cutoff` µm; `None` for a cut-off that is not in it.
pub fn stylus_row(cutoff: Decimal) -> Option<StylusRow> {
    let rows = [
        (80, 25, 5, "2 µm"),
        (250, 25, 5, "2 µm"),
        (800, 25, 5, "2 µm (5 µm where Rz is above 3 µm)"),
        (2_500, 80, 15, "5 µm or 2 µm"),
        (8_000, 250, 50, "10 µm, 5 µm or 2 µm"),
    ];
    rows.iter().find(|row| Decimal::from(row.0) == cutoff).map(|(cutoff, short, spacing, tip)| StylusRow {
        cutoff: Decimal::from(*cutoff),
        short: Decimal::new(*short, 1).normalize(),
        spacing: Decimal::new(*spacing, 1).normalize(),
        tip,
    })
}
