//! From the bytes of a logger's file to the summary, times inside and thinned points of its channels, against
//! numpy.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench stops at the first surprise"
)]

use std::fmt::Write;
use std::process::Command;
use std::time::Instant;

use brightproof::bath_log::Window;
use brightproof::bath_log::summary;
use brightproof::bath_log::thin;
use brightproof::bath_log::within;
use brightproof::log_file;
use brightproof::logger::Loggers;

const MAP: &str = r#"
loggers:
  - logger: L1
    what: invented logger
    delimiter: ","
    decimal: point
    time: { header: Time, format: "YYYY-MM-DD hh:mm:ss", offset: "-05:00" }
    columns:
      - { header: Bath (°C), measures: temperature, unit: °C }
      - { header: Current (A), measures: current, unit: A }
      - { header: Voltage (V), measures: voltage, unit: V }
    interval: 1 s
"#;

/// An invented log, a reading a second.
fn text(rows: u64) -> String {
    let mut text = String::from("Time,Bath (°C),Current (A),Voltage (V)\n");
    let mut state = 1_u64;
    for row in 0..rows {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let noise = (state >> 33) % 400;
        let (day, s) = (row / 86_400 + 1, row % 86_400);
        let (h, m, s) = (s / 3600, s / 60 % 60, s % 60);
        let bath = 5900 + row / 60 % 150 + noise / 10;
        let (amps, volts) = (1200 + noise, 90 + noise / 20);
        let (a, b) = (bath / 100, bath % 100);
        let (c, d) = (amps / 10, amps % 10);
        writeln!(
            text,
            "2026-11-{day:02} {h:02}:{m:02}:{s:02},{a}.{b:02},{c}.{d},{}.{}",
            volts / 10,
            volts % 10
        )
        .unwrap();
    }
    text
}

fn main() {
    let map: Loggers = serde_yaml::from_str(MAP).unwrap();
    let logger = &map.loggers[0];
    let mut last: Option<f64> = None;
    for rows in [10_000_u64, 100_000, 1_000_000] {
        let text = text(rows);
        let runs = if rows > 500_000 { 3 } else { 15 };
        let (mut best, mut best_read, mut shown) = (f64::MAX, f64::MAX, String::new());
        for _ in 0..runs {
            let begin = Instant::now();
            let log = log_file::read(text.as_bytes(), logger).unwrap();
            let read = begin.elapsed().as_secs_f64() * 1000.0;
            let span = log.span().unwrap();
            shown.clear();
            for trace in log.traces() {
                let unit = trace.channel().unit;
                let limit = |n: &str| format!("{n} {unit}").parse().ok();
                let window = Window { lo: limit("20"), hi: limit("60") };
                let found = summary(&trace, &span, 2_000);
                let inside = within(&trace, &span, &window, 2_000).unwrap();
                let points = thin(&trace, &span, 400);
                write!(shown, "{} {} {}; ", found.mean.unwrap(), inside.inside, points.len()).unwrap();
            }
            best_read = best_read.min(read);
            best = best.min(begin.elapsed().as_secs_f64() * 1000.0);
        }
        let growth = last.map_or(String::new(), |l| format!(", {:.1} times the size before", best / l));
        let mb = text.len() as f64 / 1e6;
        println!("{rows} rows, {mb:.1} MB: {best:.2} ms (reading {best_read:.2} ms){growth}");
        println!("  {shown}");
        last = Some(best);
        let path = std::env::temp_dir().join("brightproof-bath-log-bench.csv");
        std::fs::write(&path, &text).unwrap();
        let args = [
            "-c",
            include_str!("bath_log.py"),
            path.to_str().unwrap(),
            if rows > 500_000 { "1" } else { "3" },
        ];
        let output = Command::new("python3").args(args).env("OMP_NUM_THREADS", "1").output();
        let Ok(output) = output else { continue };
        for line in String::from_utf8_lossy(&output.stdout).lines() {
            let theirs: f64 = line.split(' ').nth(1).and_then(|n| n.parse().ok()).unwrap_or(f64::NAN);
            println!("  {line}: {:.0} times ours", theirs / best);
        }
        std::fs::remove_file(&path).unwrap();
    }
}
