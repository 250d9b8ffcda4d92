//! What is compiled into the binary: packs, the alloy table, sampling tables.

use crate::alloy::AlloyTable;
use crate::alloy::ProductTolerances;
use crate::app::error::Error;
use crate::pack::Pack;
use crate::pack::SamplingPlans;
use crate::sampling::Tables;
use crate::yaml;

/// Built-in packs by file name.
pub const PACKS: &[(&str, &str)] = &[
    ("rules/house.yaml", include_str!("../../rules/house.yaml")),
    ("rules/astm-a967.yaml", include_str!("../../rules/astm-a967.yaml")),
    ("rules/astm-a967-05.yaml", include_str!("../../rules/astm-a967-05.yaml")),
    ("rules/astm-a380.yaml", include_str!("../../rules/astm-a380.yaml")),
    ("rules/astm-b912.yaml", include_str!("../../rules/astm-b912.yaml")),
    ("rules/astm-f86.yaml", include_str!("../../rules/astm-f86.yaml")),
    ("rules/ams-2700.yaml", include_str!("../../rules/ams-2700.yaml")),
    ("rules/qq-p-35.yaml", include_str!("../../rules/qq-p-35.yaml")),
    ("rules/ams-qq-p-35.yaml", include_str!("../../rules/ams-qq-p-35.yaml")),
    ("rules/mil-std-753.yaml", include_str!("../../rules/mil-std-753.yaml")),
    ("rules/iso-16048.yaml", include_str!("../../rules/iso-16048.yaml")),
    ("rules/en-2516.yaml", include_str!("../../rules/en-2516.yaml")),
    ("rules/iso-15730.yaml", include_str!("../../rules/iso-15730.yaml")),
    ("rules/semi-f19.yaml", include_str!("../../rules/semi-f19.yaml")),
    ("rules/asme-bpe.yaml", include_str!("../../rules/asme-bpe.yaml")),
    ("rules/astm-b117.yaml", include_str!("../../rules/astm-b117.yaml")),
    ("rules/iso-9227.yaml", include_str!("../../rules/iso-9227.yaml")),
];

const ALLOYS: (&str, &str) = ("rules/alloys.yaml", include_str!("../../rules/alloys.yaml"));
const TOLERANCES: (&str, &str) =
    ("rules/product-tolerances.yaml", include_str!("../../rules/product-tolerances.yaml"));
const SAMPLING: (&str, &str) = ("rules/sampling/b602.yaml", include_str!("../../rules/sampling/b602.yaml"));
const INDEXED: (&str, &str) =
    ("rules/sampling/mil-std-105e.yaml", include_str!("../../rules/sampling/mil-std-105e.yaml"));

fn read<T: serde::de::DeserializeOwned>((name, text): (&str, &str)) -> Result<T, Error> {
    yaml::parse(text).map_err(|fault| Error::Fault { file: format!("(built in) {name}"), fault })
}

/// The built-in packs.
pub fn packs() -> Result<Vec<Pack>, Error> {
    PACKS.iter().map(|pack| read(*pack)).collect()
}

/// The built-in alloy table.
pub fn alloys() -> Result<AlloyTable, Error> {
    read(ALLOYS)
}

/// The built-in tolerances of product analyses.
pub fn product_tolerances() -> Result<ProductTolerances, Error> {
    read(TOLERANCES)
}

/// The built-in sampling tables.
pub fn sampling() -> Result<SamplingPlans, Error> {
    read(SAMPLING)
}

/// The built-in tables of plans indexed by level and AQL.
pub fn indexed_sampling() -> Result<Tables, Error> {
    read(INDEXED)
}
