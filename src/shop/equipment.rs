//! What an instrument is, and when it was not to be used.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::shop::Instrument;

/// What kind of instrument it is: a thermometer cannot gauge roughness.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum InstrumentKind {
    /// Thermometer, in a bath or on a surface.
    #[serde(rename = "thermometer")]
    Thermometer,
    /// Meter for total solids or conductivity of rinse water.
    #[serde(rename = "solids meter")]
    SolidsMeter,
    /// Roughness gauge.
    #[serde(rename = "roughness gauge")]
    RoughnessGauge,
    /// Micrometer or any other gauge of thickness.
    #[serde(rename = "thickness gauge")]
    ThicknessGauge,
    /// Balance.
    #[serde(rename = "balance")]
    Balance,
    /// Timer.
    #[serde(rename = "timer")]
    Timer,
    /// Tank for water immersion tests.
    #[serde(rename = "immersion tank")]
    ImmersionTank,
    /// Chamber for humidity tests.
    #[serde(rename = "humidity chamber")]
    HumidityChamber,
    /// Chamber for salt spray tests.
    #[serde(rename = "salt spray chamber")]
    SaltSprayChamber,
    /// Surface analyser: an electron or photon spectrometer, a scanning electron microscope.
    #[serde(rename = "surface analyser")]
    SurfaceAnalyser,
    /// Rectifier of an electropolishing bath, with its meters.
    #[serde(rename = "rectifier")]
    Rectifier,
    /// None of these: nothing judged here can be measured with it.
    #[serde(rename = "other")]
    Other,
}

impl InstrumentKind {
    /// Its name in `instruments.yaml` and in reports.
    pub const fn name(self) -> &'static str {
        match self {
            InstrumentKind::Thermometer => "thermometer",
            InstrumentKind::SolidsMeter => "solids meter",
            InstrumentKind::RoughnessGauge => "roughness gauge",
            InstrumentKind::ThicknessGauge => "thickness gauge",
            InstrumentKind::Balance => "balance",
            InstrumentKind::Timer => "timer",
            InstrumentKind::ImmersionTank => "immersion tank",
            InstrumentKind::HumidityChamber => "humidity chamber",
            InstrumentKind::SaltSprayChamber => "salt spray chamber",
            InstrumentKind::SurfaceAnalyser => "surface analyser",
            InstrumentKind::Rectifier => "rectifier",
            InstrumentKind::Other => "other instrument",
        }
    }

    /// What a test is made with.
    pub const fn for_test(test: TestKind) -> &'static [InstrumentKind] {
        match test {
            TestKind::WaterImmersion => &[InstrumentKind::ImmersionTank, InstrumentKind::Timer],
            TestKind::HighHumidity => &[InstrumentKind::HumidityChamber],
            TestKind::SaltSpray => &[InstrumentKind::SaltSprayChamber],
            TestKind::DampCloth => &[InstrumentKind::Thermometer],
            TestKind::WettingAndDrying => &[InstrumentKind::ImmersionTank, InstrumentKind::Timer],
            TestKind::CopperSulfate
            | TestKind::FerricyanideNitric
            | TestKind::ModifiedFerroxyl
            | TestKind::Ferroxyl
            | TestKind::WaterBreak
            | TestKind::Wipe => &[InstrumentKind::Timer],
            TestKind::Auger
            | TestKind::Photoelectron
            | TestKind::GlowDischarge
            | TestKind::ElectronMicroscope => &[InstrumentKind::SurfaceAnalyser],
        }
    }

    /// What a characteristic of the finished surface is measured with.
    pub const fn for_measurement(what: Characteristic) -> &'static [InstrumentKind] {
        match what {
            Characteristic::Ra | Characteristic::Rq | Characteristic::Rz => &[InstrumentKind::RoughnessGauge],
            Characteristic::StockRemoval => &[InstrumentKind::ThicknessGauge, InstrumentKind::Balance],
        }
    }
}

/// Days an instrument was not to be used, whatever its calibration says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutOfService {
    /// First day.
    pub from: Date,
    /// Last day; left out: until further notice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Date>,
    /// Why.
    pub why: String,
}

impl OutOfService {
    /// Whether a day is among them.
    pub fn covers(&self, day: Date) -> bool {
        self.from <= day && self.to.is_none_or(|to| day <= to)
    }
}

impl Instrument {
    /// The entry that takes it out of service on a day.
    pub fn out_of_service_on(&self, day: Date) -> Option<&OutOfService> {
        self.out_of_service.iter().find(|o| o.covers(day))
    }
}
