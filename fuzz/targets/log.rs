//! A logger's file. The first byte chooses the logger: 0 and 1 are the sample shop's, then each delimiter,
//! decimal mark and form of time.
#![no_main]

use std::sync::OnceLock;

use brightproof::log_file::read;
use brightproof::logger::Logger;
use brightproof::logger::Loggers;
use brightproof::yaml;
use libfuzzer_sys::fuzz_target;

const TIMES: [&str; 4] = [
    "header: Time, format: \"YYYY-MM-DD hh:mm:ss\", offset: \"-05:00\"",
    "header: Time, format: \"DD.MM.YYYY hh:mm:ss\", offset: \"+01:00\"",
    "header: Time, format: \"MM/DD/YYYY hh:mm:ss AM\", offset: \"-06:00\"",
    "header: Time, format: \"RFC 3339\"",
];

fn loggers() -> &'static [Logger] {
    static LOGGERS: OnceLock<Vec<Logger>> = OnceLock::new();
    LOGGERS.get_or_init(|| {
        let sample = include_str!("../../samples/larkspur/loggers.yaml");
        let mut all = yaml::parse::<Loggers>(sample).expect("the sample's loggers").loggers;
        for delimiter in [",", ";", "\\t"] {
            for decimal in ["point", "comma"] {
                for time in TIMES {
                    let text = format!(
                        "loggers:\n  - logger: L1\n    what: invented\n    delimiter: \"{delimiter}\"\n    \
                         decimal: {decimal}\n    time: {{ {time} }}\n    columns:\n      \
                         - {{ header: \"Temp (°C)\", measures: temperature, unit: °C }}\n      \
                         - {{ header: Amps, measures: current, unit: A }}\n    no_reading: [\"---\"]\n    \
                         interval: 10 s\n"
                    );
                    if let Ok(found) = yaml::parse::<Loggers>(&text) {
                        all.extend(found.loggers);
                    }
                }
            }
        }
        assert!(all.len() >= 14, "{}", all.len());
        all
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Some((which, text)) = bytes.split_first() else { return };
    let all = loggers();
    if let Some(logger) = all.get(usize::from(*which) % all.len()) {
        let _ = read(text, logger);
    }
});
