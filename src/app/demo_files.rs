//! The invented demonstration shop, compiled in. A test compares this list with the folder.

/// Files of the demonstration shop: path within the shop folder, and text.
pub const FILES: &[(&str, &str)] = &[
    ("adopt/astm-a967.yaml", include_str!("../../samples/larkspur/adopt/astm-a967.yaml")),
    ("adopt/astm-b912.yaml", include_str!("../../samples/larkspur/adopt/astm-b912.yaml")),
    ("baths.yaml", include_str!("../../samples/larkspur/baths.yaml")),
    ("deviations/QI-DEV-049.yaml", include_str!("../../samples/larkspur/deviations/QI-DEV-049.yaml")),
    ("deviations/QI-DEV-058.yaml", include_str!("../../samples/larkspur/deviations/QI-DEV-058.yaml")),
    ("deviations/QI-DEV-061.yaml", include_str!("../../samples/larkspur/deviations/QI-DEV-061.yaml")),
    (
        "deviations/letters/QI-DEV-049.txt",
        include_str!("../../samples/larkspur/deviations/letters/QI-DEV-049.txt"),
    ),
    (
        "deviations/letters/QI-DEV-058.txt",
        include_str!("../../samples/larkspur/deviations/letters/QI-DEV-058.txt"),
    ),
    (
        "deviations/letters/QI-DEV-061.txt",
        include_str!("../../samples/larkspur/deviations/letters/QI-DEV-061.txt"),
    ),
    ("instruments.yaml", include_str!("../../samples/larkspur/instruments.yaml")),
    ("journal/L-26-0432.jsonl", include_str!("../../samples/larkspur/journal/L-26-0432.jsonl")),
    ("loggers.yaml", include_str!("../../samples/larkspur/loggers.yaml")),
    ("loads/LD-7.yaml", include_str!("../../samples/larkspur/loads/LD-7.yaml")),
    ("lots/L-26-0401.yaml", include_str!("../../samples/larkspur/lots/L-26-0401.yaml")),
    ("lots/L-26-0402.yaml", include_str!("../../samples/larkspur/lots/L-26-0402.yaml")),
    ("lots/L-26-0403.yaml", include_str!("../../samples/larkspur/lots/L-26-0403.yaml")),
    ("lots/L-26-0404.yaml", include_str!("../../samples/larkspur/lots/L-26-0404.yaml")),
    ("lots/L-26-0405.yaml", include_str!("../../samples/larkspur/lots/L-26-0405.yaml")),
    ("lots/L-26-0406.yaml", include_str!("../../samples/larkspur/lots/L-26-0406.yaml")),
    ("lots/L-26-0407.yaml", include_str!("../../samples/larkspur/lots/L-26-0407.yaml")),
    ("lots/L-26-0408.yaml", include_str!("../../samples/larkspur/lots/L-26-0408.yaml")),
    ("lots/L-26-0409.yaml", include_str!("../../samples/larkspur/lots/L-26-0409.yaml")),
    ("lots/L-26-0410.yaml", include_str!("../../samples/larkspur/lots/L-26-0410.yaml")),
    ("lots/L-26-0411.yaml", include_str!("../../samples/larkspur/lots/L-26-0411.yaml")),
    ("lots/L-26-0412.yaml", include_str!("../../samples/larkspur/lots/L-26-0412.yaml")),
    ("lots/L-26-0413.yaml", include_str!("../../samples/larkspur/lots/L-26-0413.yaml")),
    ("lots/L-26-0414.yaml", include_str!("../../samples/larkspur/lots/L-26-0414.yaml")),
    ("lots/L-26-0415.yaml", include_str!("../../samples/larkspur/lots/L-26-0415.yaml")),
    ("lots/L-26-0416.yaml", include_str!("../../samples/larkspur/lots/L-26-0416.yaml")),
    ("lots/L-26-0417.yaml", include_str!("../../samples/larkspur/lots/L-26-0417.yaml")),
    ("lots/L-26-0418.yaml", include_str!("../../samples/larkspur/lots/L-26-0418.yaml")),
    ("lots/L-26-0419.yaml", include_str!("../../samples/larkspur/lots/L-26-0419.yaml")),
    ("lots/L-26-0420.yaml", include_str!("../../samples/larkspur/lots/L-26-0420.yaml")),
    ("lots/L-26-0421.yaml", include_str!("../../samples/larkspur/lots/L-26-0421.yaml")),
    ("lots/L-26-0431.yaml", include_str!("../../samples/larkspur/lots/L-26-0431.yaml")),
    ("lots/L-26-0432.yaml", include_str!("../../samples/larkspur/lots/L-26-0432.yaml")),
    ("lots/L-26-0441.yaml", include_str!("../../samples/larkspur/lots/L-26-0441.yaml")),
    ("lots/L-26-0442.yaml", include_str!("../../samples/larkspur/lots/L-26-0442.yaml")),
    ("lots/L-26-0443.yaml", include_str!("../../samples/larkspur/lots/L-26-0443.yaml")),
    ("lots/L-26-0444.yaml", include_str!("../../samples/larkspur/lots/L-26-0444.yaml")),
    ("lots/L-26-0461.yaml", include_str!("../../samples/larkspur/lots/L-26-0461.yaml")),
    ("lots/L-26-0462.yaml", include_str!("../../samples/larkspur/lots/L-26-0462.yaml")),
    ("lots/L-26-0471.yaml", include_str!("../../samples/larkspur/lots/L-26-0471.yaml")),
    ("lots/L-26-0472.yaml", include_str!("../../samples/larkspur/lots/L-26-0472.yaml")),
    ("lots/L-26-0473.yaml", include_str!("../../samples/larkspur/lots/L-26-0473.yaml")),
    ("lots/L-26-0474.yaml", include_str!("../../samples/larkspur/lots/L-26-0474.yaml")),
    ("lots/L-26-0475.yaml", include_str!("../../samples/larkspur/lots/L-26-0475.yaml")),
    ("lots/L-26-0501.yaml", include_str!("../../samples/larkspur/lots/L-26-0501.yaml")),
    ("lots/L-26-0502.yaml", include_str!("../../samples/larkspur/lots/L-26-0502.yaml")),
    ("lots/L-26-0521.yaml", include_str!("../../samples/larkspur/lots/L-26-0521.yaml")),
    ("lots/L-26-0522.yaml", include_str!("../../samples/larkspur/lots/L-26-0522.yaml")),
    ("lots/L-26-0541.yaml", include_str!("../../samples/larkspur/lots/L-26-0541.yaml")),
    ("lots/L-26-0542.yaml", include_str!("../../samples/larkspur/lots/L-26-0542.yaml")),
    ("lots/L-26-0543.yaml", include_str!("../../samples/larkspur/lots/L-26-0543.yaml")),
    ("lots/L-26-0544.yaml", include_str!("../../samples/larkspur/lots/L-26-0544.yaml")),
    ("lots/L-26-0545.yaml", include_str!("../../samples/larkspur/lots/L-26-0545.yaml")),
    ("orders/HA-7712.yaml", include_str!("../../samples/larkspur/orders/HA-7712.yaml")),
    ("orders/HA-7745.yaml", include_str!("../../samples/larkspur/orders/HA-7745.yaml")),
    ("orders/HA-7801.yaml", include_str!("../../samples/larkspur/orders/HA-7801.yaml")),
    ("orders/OS-30417.yaml", include_str!("../../samples/larkspur/orders/OS-30417.yaml")),
    ("orders/QI-88231.yaml", include_str!("../../samples/larkspur/orders/QI-88231.yaml")),
    ("orders/QI-88240.yaml", include_str!("../../samples/larkspur/orders/QI-88240.yaml")),
    ("orders/QI-88256.yaml", include_str!("../../samples/larkspur/orders/QI-88256.yaml")),
    ("orders/QI-88274.yaml", include_str!("../../samples/larkspur/orders/QI-88274.yaml")),
    ("orders/QI-88291.yaml", include_str!("../../samples/larkspur/orders/QI-88291.yaml")),
    ("orders/QI-88310.yaml", include_str!("../../samples/larkspur/orders/QI-88310.yaml")),
    ("orders/QI-88351.yaml", include_str!("../../samples/larkspur/orders/QI-88351.yaml")),
    ("orders/QI-88361.yaml", include_str!("../../samples/larkspur/orders/QI-88361.yaml")),
    ("orders/QI-88362.yaml", include_str!("../../samples/larkspur/orders/QI-88362.yaml")),
    ("orders/QI-88401.yaml", include_str!("../../samples/larkspur/orders/QI-88401.yaml")),
    ("orders/QI-88402.yaml", include_str!("../../samples/larkspur/orders/QI-88402.yaml")),
    ("orders/QI-88411.yaml", include_str!("../../samples/larkspur/orders/QI-88411.yaml")),
    ("orders/QI-88441.yaml", include_str!("../../samples/larkspur/orders/QI-88441.yaml")),
    ("orders/QI-88442.yaml", include_str!("../../samples/larkspur/orders/QI-88442.yaml")),
    ("orders/TF-5520.yaml", include_str!("../../samples/larkspur/orders/TF-5520.yaml")),
    ("orders/TF-5561.yaml", include_str!("../../samples/larkspur/orders/TF-5561.yaml")),
    ("orders/TF-5590.yaml", include_str!("../../samples/larkspur/orders/TF-5590.yaml")),
    ("papers/BL-2210.txt", include_str!("../../samples/larkspur/papers/BL-2210.txt")),
    ("papers/FE-118.txt", include_str!("../../samples/larkspur/papers/FE-118.txt")),
    ("parts/7718-01-B.yaml", include_str!("../../samples/larkspur/parts/7718-01-B.yaml")),
    ("parts/7731-04-C.yaml", include_str!("../../samples/larkspur/parts/7731-04-C.yaml")),
    ("parts/7731-06-A.yaml", include_str!("../../samples/larkspur/parts/7731-06-A.yaml")),
    ("parts/7742-01-A.yaml", include_str!("../../samples/larkspur/parts/7742-01-A.yaml")),
    ("parts/7755-02-B.yaml", include_str!("../../samples/larkspur/parts/7755-02-B.yaml")),
    ("parts/7766-01-A.yaml", include_str!("../../samples/larkspur/parts/7766-01-A.yaml")),
    ("parts/7790-06-A.yaml", include_str!("../../samples/larkspur/parts/7790-06-A.yaml")),
    ("parts/7795-02-A.yaml", include_str!("../../samples/larkspur/parts/7795-02-A.yaml")),
    ("parts/7795-04-A.yaml", include_str!("../../samples/larkspur/parts/7795-04-A.yaml")),
    ("parts/8102-11-A.yaml", include_str!("../../samples/larkspur/parts/8102-11-A.yaml")),
    ("parts/8140-05-A.yaml", include_str!("../../samples/larkspur/parts/8140-05-A.yaml")),
    ("parts/8403-01-A.yaml", include_str!("../../samples/larkspur/parts/8403-01-A.yaml")),
    ("parts/HA-3308-1-B.yaml", include_str!("../../samples/larkspur/parts/HA-3308-1-B.yaml")),
    ("parts/HA-6120-3-A.yaml", include_str!("../../samples/larkspur/parts/HA-6120-3-A.yaml")),
    ("parts/HA-7250-2-A.yaml", include_str!("../../samples/larkspur/parts/HA-7250-2-A.yaml")),
    ("parts/M-4410-1-2.yaml", include_str!("../../samples/larkspur/parts/M-4410-1-2.yaml")),
    ("parts/OS-TB12-A.yaml", include_str!("../../samples/larkspur/parts/OS-TB12-A.yaml")),
    ("parts/OS-VF40-D.yaml", include_str!("../../samples/larkspur/parts/OS-VF40-D.yaml")),
    ("parts/TF-1188-B.yaml", include_str!("../../samples/larkspur/parts/TF-1188-B.yaml")),
    ("parts/TF-2040-A.yaml", include_str!("../../samples/larkspur/parts/TF-2040-A.yaml")),
    ("parts/TF-3110-A.yaml", include_str!("../../samples/larkspur/parts/TF-3110-A.yaml")),
    ("people.yaml", include_str!("../../samples/larkspur/people.yaml")),
    ("purchasers.yaml", include_str!("../../samples/larkspur/purchasers.yaml")),
    ("reports/TR-31.yaml", include_str!("../../samples/larkspur/reports/TR-31.yaml")),
    ("rules/halyard-hps-14.yaml", include_str!("../../samples/larkspur/rules/halyard-hps-14.yaml")),
    ("sheets.yaml", include_str!("../../samples/larkspur/sheets.yaml")),
    ("shipments/PS-26-0311.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0311.yaml")),
    ("shipments/PS-26-0312.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0312.yaml")),
    ("shipments/PS-26-0313.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0313.yaml")),
    ("shipments/PS-26-0314.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0314.yaml")),
    ("shipments/PS-26-0315.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0315.yaml")),
    ("shipments/PS-26-0316.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0316.yaml")),
    ("shipments/PS-26-0317.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0317.yaml")),
    ("shipments/PS-26-0341.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0341.yaml")),
    ("shipments/PS-26-0342.yaml", include_str!("../../samples/larkspur/shipments/PS-26-0342.yaml")),
    ("shop.yaml", include_str!("../../samples/larkspur/shop.yaml")),
    ("traces.yaml", include_str!("../../samples/larkspur/traces.yaml")),
    ("solutions.yaml", include_str!("../../samples/larkspur/solutions.yaml")),
    ("lots/L-26-0551.yaml", include_str!("../../samples/larkspur/lots/L-26-0551.yaml")),
    ("lots/L-26-0552.yaml", include_str!("../../samples/larkspur/lots/L-26-0552.yaml")),
    ("lots/L-26-0553.yaml", include_str!("../../samples/larkspur/lots/L-26-0553.yaml")),
    ("lots/L-26-0554.yaml", include_str!("../../samples/larkspur/lots/L-26-0554.yaml")),
    ("lots/L-26-0555.yaml", include_str!("../../samples/larkspur/lots/L-26-0555.yaml")),
    ("lots/L-26-0556.yaml", include_str!("../../samples/larkspur/lots/L-26-0556.yaml")),
    ("lots/L-26-0557.yaml", include_str!("../../samples/larkspur/lots/L-26-0557.yaml")),
    ("lots/L-26-0558.yaml", include_str!("../../samples/larkspur/lots/L-26-0558.yaml")),
    ("lots/L-26-0559.yaml", include_str!("../../samples/larkspur/lots/L-26-0559.yaml")),
    ("orders/QI-88461.yaml", include_str!("../../samples/larkspur/orders/QI-88461.yaml")),
    ("orders/QI-88470.yaml", include_str!("../../samples/larkspur/orders/QI-88470.yaml")),
    ("orders/OS-30466.yaml", include_str!("../../samples/larkspur/orders/OS-30466.yaml")),
    ("parts/7731-08-A.yaml", include_str!("../../samples/larkspur/parts/7731-08-A.yaml")),
    ("parts/7731-09-A.yaml", include_str!("../../samples/larkspur/parts/7731-09-A.yaml")),
    ("parts/OS-VF41-A.yaml", include_str!("../../samples/larkspur/parts/OS-VF41-A.yaml")),
];

/// Raw readings of the demonstration shop, as its loggers and gauges wrote them.
pub const RAW: &[(&str, &[u8])] = &[
    ("logs/EP-1-2026-11-24.csv", include_bytes!("../../samples/larkspur/logs/EP-1-2026-11-24.csv")),
    ("logs/EP-1-2026-11-25.csv", include_bytes!("../../samples/larkspur/logs/EP-1-2026-11-25.csv")),
    ("logs/N-2-2026-11-24.csv", include_bytes!("../../samples/larkspur/logs/N-2-2026-11-24.csv")),
    ("logs/N-2-2026-11-25.csv", include_bytes!("../../samples/larkspur/logs/N-2-2026-11-25.csv")),
    ("logs/N-2-2026-11-27.csv", include_bytes!("../../samples/larkspur/logs/N-2-2026-11-27.csv")),
    ("traces/L-26-0553-1.x3p", include_bytes!("../../samples/larkspur/traces/L-26-0553-1.x3p")),
    ("traces/L-26-0553-2.x3p", include_bytes!("../../samples/larkspur/traces/L-26-0553-2.x3p")),
    ("traces/L-26-0553-3.x3p", include_bytes!("../../samples/larkspur/traces/L-26-0553-3.x3p")),
    ("traces/L-26-0553-before.csv", include_bytes!("../../samples/larkspur/traces/L-26-0553-before.csv")),
    ("traces/L-26-0554-1.x3p", include_bytes!("../../samples/larkspur/traces/L-26-0554-1.x3p")),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sample_is_compiled_in() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/larkspur");
        let mut found = Vec::new();
        let mut folders = vec![root.clone()];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    found.push(path.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/"));
                }
            }
        }
        found.sort();
        let texts = FILES.iter().map(|(name, _)| (*name).to_owned());
        let mut listed: Vec<String> = texts.chain(RAW.iter().map(|(name, _)| (*name).to_owned())).collect();
        listed.sort();
        assert_eq!(listed, found);
    }
}
