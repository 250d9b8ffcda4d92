//! What is printed of raw files: the figures computed from them, and which files they are.

use crate::certificate::Fact;
use crate::computed::ChannelFigures;
use crate::computed::Computed;
use crate::computed::LogFigures;
use crate::judge;
use crate::judge::Dossier;
use crate::path::Path;
use crate::record::Measurement;

/// Digits of a digest that tell two files apart on paper; the whole stands in the data.
const SHORT: usize = 16;

fn push(facts: &mut Vec<Fact>, what: &str, value: String) {
    if !value.is_empty() {
        facts.push(Fact { what: what.to_owned(), value });
    }
}

fn named(computed: &Computed) -> String {
    let short = computed.sha256.get(..SHORT).unwrap_or_default();
    format!("{} (SHA-256 {short}…)", computed.path)
}

/// What a log says of a step.
pub(super) fn of_step(dossier: &Dossier, facts: &mut Vec<Fact>, step: &Path) {
    let entry = step.key("log");
    let Some(computed) = dossier.computed.iter().find(|c| c.named_at == entry) else { return };
    let Some(log) = computed.log() else { return };
    for channel in log.channels.iter().filter(|c| SHOWN.contains(&c.measures.as_str())) {
        push(facts, &format!("{} by the log", channel.measures), spread(channel));
    }
    if log.tells_times() {
        push(facts, "in and out", log.interval.clone());
    }
    push(facts, "log", format!("{}, {}", readings(log), named(computed)));
}

/// Channels that are printed: what a bath holds is not read off its acidity or conductivity by everybody.
const SHOWN: &[&str] = &["temperature", "current", "voltage", "humidity"];

fn spread(channel: &ChannelFigures) -> String {
    let charge = channel.charge.map(|c| format!(", charge {c}")).unwrap_or_default();
    format!("{} to {}, mean {}{charge}", channel.minimum, channel.maximum, channel.mean)
}

fn readings(log: &LogFigures) -> String {
    format!("{} readings, the longest gap {}", log.inside, log.longest_gap)
}

/// What traces say of a measurement.
pub(super) fn of_measurement(dossier: &Dossier, facts: &mut Vec<Fact>, index: usize, m: &Measurement) {
    let path = Path::root().key("measurements").index(index);
    for (key, what, count) in [
        ("traces", "computed from traces", m.traces.len()),
        ("traces_before", "computed from traces before treatment", m.traces_before.len()),
    ] {
        let path = path.key(key);
        let of = |j| dossier.computed.iter().find(|c| c.named_at == path.index(j));
        let found: Vec<&Computed> = (0..count).filter_map(of).collect();
        let values = found.iter().filter_map(|c| Some(c.trace()?.parameter(m.what.name())?.to_string()));
        push(facts, what, values.collect::<Vec<_>>().join(", "));
        if let Some(trace) = found.iter().find_map(|c| c.trace()) {
            let short = trace.short_cutoff.map_or_else(String::new, |q| format!(", short-wave cut-off {q}"));
            let filter = format!(
                "Gaussian, cut-off {} ({}){short}, {} sampling lengths",
                trace.cutoff, trace.cutoff_by, trace.sampling_lengths
            );
            push(facts, "filter", filter);
            push(facts, "worth knowing of the trace", trace.warnings.join("; "));
        }
        push(facts, "raw files", found.iter().map(|c| named(c)).collect::<Vec<_>>().join(", "));
    }
    for (by, value, expanded) in judge::removal_estimates(dossier, index, m) {
        let known = expanded.map_or_else(String::new, |u| format!(" ± {u} (k = 2)"));
        push(facts, &format!("removal {by}"), format!("{value}{known}"));
    }
}
