//! From the certificate's data to a [`Description`] of the page, through a template.
//!
//! The template's name ends in `.json.j2`: the engine then writes every value as a JSON scalar,
//! so a text in the data stays a text whatever quotes and brackets it holds.

use minijinja::AutoEscape;
use minijinja::Environment;
use minijinja::UndefinedBehavior;
use minijinja::Value;
use minijinja::value::Rest;
use minijinja::value::Serde;

use super::data::Data;
use super::description::Description;
use super::error::PdfError;
use super::spelling::grouped;

/// The name under which the built-in template is known, and printed in the data.
pub(super) const NAME: &str = "certificate";
/// The built-in template's source.
pub(super) const SOURCE: &str = include_str!("../../templates/certificate.json.j2");
const FILE: &str = "certificate.json.j2";
/// Joins a number to its unit.
const NO_BREAK: char = '\u{a0}';

/// The template engine with the built-in template parsed.
pub(super) struct Template {
    env: Environment<'static>,
}

impl Template {
    /// Parses the built-in template.
    ///
    /// # Errors
    /// [`PdfError::Template`] when it does not parse.
    pub(super) fn new() -> Result<Template, PdfError> {
        let mut env = Environment::new();
        env.set_undefined_behavior(UndefinedBehavior::Strict);
        env.set_auto_escape_callback(|_| AutoEscape::Json);
        env.add_function("get", get);
        env.add_function("text", text);
        env.add_function("items", items);
        env.add_function("listed", listed);
        env.add_function("after", after);
        env.add_function("moment", moment);
        env.add_function("measure", measure);
        env.add_function("grouped", |digits: String| grouped(&digits));
        env.add_function("capital", capital);
        env.add_function("heats", heats);
        env.add_function("counted", counted);
        env.add_function("facts", facts);
        env.add_function("spoken", spoken);
        env.add_function("verdicts", verdicts);
        env.add_function("permission", permission);
        env.add_function("kind_words", kind_words);
        env.add_function("register_words", register_words);
        env.add_function("made_by", made_by);
        env.add_function("release_words", release_words);
        env.add_template(FILE, SOURCE).map_err(fault)?;
        Ok(Template { env })
    }

    /// Describes the page.
    ///
    /// # Errors
    /// [`PdfError::Template`] when the data lack what the template names, or hold it in another
    /// kind than the template expects.
    pub(super) fn describe(&self, data: &Data, stamp: &str) -> Result<Description, PdfError> {
        let mut context = data.value.clone();
        if let Some(root) = context.as_object_mut() {
            root.insert("stamp".to_owned(), stamp.into());
        }
        let template = self.env.get_template(FILE).map_err(fault)?;
        let json = template.render(Serde(&context)).map_err(fault)?;
        serde_json::from_str(&json)
            .map_err(|e| PdfError::Template { detail: format!("its result is no page description: {e}") })
    }
}

fn fault(error: minijinja::Error) -> PdfError {
    let mut detail = error.to_string();
    let mut cause = std::error::Error::source(&error);
    while let Some(inner) = cause {
        detail.push_str(&format!(": {inner}"));
        cause = inner.source();
    }
    PdfError::Template { detail }
}

/// A member of an object, `none` when the object or the member is absent.
fn get(object: Value, key: &str) -> Value {
    match object.get_attr(key) {
        Ok(value) if !value.is_undefined() => value,
        _ => Value::from(()),
    }
}

/// A scalar as text: `text(value)` or `text(object, "key")`; empty when absent.
fn text(object: Value, key: Option<&str>) -> String {
    let value = match key {
        Some(key) => get(object, key),
        None => object,
    };
    plain(&value)
}

fn plain(value: &Value) -> String {
    if value.is_undefined() || value.is_none() { String::new() } else { value.to_string() }
}

/// A list, empty when absent.
fn items(object: Value, key: &str) -> Vec<Value> {
    get(object, key).try_iter().map(Iterator::collect).unwrap_or_default()
}

/// The non-empty texts of a list, joined.
fn listed(list: Vec<Value>, between: &str) -> String {
    let parts: Vec<String> = list.iter().map(plain).filter(|part| !part.is_empty()).collect();
    parts.join(between)
}

/// `before value behind`, or nothing when the value is empty.
fn after(before: &str, value: &str, behind: Rest<String>) -> String {
    if value.is_empty() { String::new() } else { format!("{before}{value}{}", behind.concat()) }
}

/// A moment as recorded, its parts kept on one line: `2026-11-25 16:20:31 -05:00`.
fn moment(text: &str) -> String {
    match text.split_once('T') {
        Some((date, clock)) if date.len() == 10 => {
            let cut = clock.rfind(['+', '-']).unwrap_or(clock.len());
            match (clock.get(..cut), clock.get(cut..)) {
                (Some(time), Some("")) => format!("{date} {time}"),
                (Some(time), Some(offset)) => format!("{date} {time}{NO_BREAK}{offset}"),
                _ => text.to_owned(),
            }
        }
        _ => text.to_owned(),
    }
}

/// Keeps numbers with their units: the space between a digit and a unit becomes a no-break one.
fn measure(text: &str) -> String {
    const WORDS: [&str; 9] = ["to", "and", "or", "of", "at", "per", "for", "from", "on"];
    let mut out = String::with_capacity(text.len());
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        out.push_str(word);
        if let Some(next) = words.peek() {
            let number = word.chars().next_back().is_some_and(|c| c.is_ascii_digit());
            let unit = !WORDS.contains(next) && next.chars().count() <= 8 && !next.is_empty();
            out.push(if number && unit { NO_BREAK } else { ' ' });
        }
    }
    out
}

/// With a capital letter first.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

/// How the shop releases shipments.
fn release_words(policy: Value) -> String {
    let two = !get(policy.clone(), "preparer_may_release").is_true();
    let own = text(policy, Some("authentication")) == "passphrase";
    match (two, own) {
        (true, true) => "This shop releases by two people, each known by a passphrase of their own.",
        (true, false) => "This shop releases by two people, named by whoever holds its seal key.",
        (false, true) => "This shop releases by one person, known by a passphrase of their own.",
        (false, false) => "This shop releases by one person, named by whoever holds its seal key.",
    }
    .to_owned()
}

/// `H4471 (stated by purchaser); H4472 (verified)`.
fn heats(material: Value) -> String {
    let heats = items(material, "heats");
    let each = heats.iter().map(|heat| {
        let known = text(heat.clone(), Some("known"));
        let name = text(heat.clone(), Some("heat"));
        match (name.is_empty(), known.is_empty()) {
            (false, false) => format!("{name} ({known})"),
            (false, true) => name,
            _ => known,
        }
    });
    each.collect::<Vec<_>>().join("; ")
}

/// `received 240; accepted 240`.
fn counted(counts: Vec<Value>) -> String {
    let each = counts.iter().map(|count| {
        format!("{}{NO_BREAK}{}", text(count.clone(), Some("what")), text(count.clone(), Some("pieces")))
    });
    each.collect::<Vec<_>>().join("; ")
}

/// `bath temperature: 84 °F; nitric acid: 24.6 vol%`.
fn facts(facts: Vec<Value>) -> String {
    let each = facts.iter().map(|fact| {
        format!("{}: {}", text(fact.clone(), Some("what")), measure(&text(fact.clone(), Some("value"))))
    });
    each.collect::<Vec<_>>().join("; ")
}

/// A text as it is, an object as `name: value; name: value`.
fn spoken(value: Value) -> String {
    if value.kind() != minijinja::value::ValueKind::Map {
        return plain(&value);
    }
    let Ok(keys) = value.try_iter() else { return String::new() };
    let each = keys.filter_map(|key| {
        let name = plain(&key);
        let said = match value.get_item(&key) {
            Ok(list) if list.kind() == minijinja::value::ValueKind::Seq => {
                listed(list.try_iter().map(Iterator::collect).unwrap_or_default(), ", ")
            }
            Ok(one) => plain(&one),
            Err(_) => String::new(),
        };
        (!said.is_empty()).then(|| format!("{}: {}", name.replace('_', " "), measure(&said)))
    });
    each.collect::<Vec<_>>().join("; ")
}

/// The findings of a lot whose verdict is one of those named.
fn verdicts(lot: Value, wanted: Vec<String>) -> Vec<Value> {
    let mut found = items(lot, "findings");
    found.retain(|finding| wanted.contains(&text(finding.clone(), Some("verdict"))));
    found
}

/// Of the deviation a finding is accepted under: its number, or what it permits instead.
fn permission(finding: Value, key: &str) -> String {
    let said = text(get(get(finding, "reason"), "permitted"), Some(key));
    match (key, said.is_empty()) {
        ("deviation", true) => "a deviation".to_owned(),
        ("deviation", false) => format!("deviation {said}"),
        _ => measure(&said),
    }
}

fn kind_words(kind: &str) -> String {
    match kind {
        "clerical" => "Its data were mended; the parts are as they were.".to_owned(),
        "conformity" => "What it said about the parts has changed.".to_owned(),
        "" => String::new(),
        other => format!("Kind: {other}."),
    }
}

/// `larkspur.example/register, 12 entries when this was issued`.
fn register_words(register: Value) -> String {
    let origin = text(register.clone(), Some("origin"));
    if origin.is_empty() {
        return String::new();
    }
    let size = text(register, Some("size"));
    if size.is_empty() { origin } else { format!("{origin}, {size} entries when this was issued") }
}

fn made_by(judge: Value) -> String {
    let release = text(judge.clone(), Some("release"));
    let version = text(judge, Some("judge"));
    if release.is_empty() {
        return String::new();
    }
    format!("brightproof {release}{}", after(", judge ", &version, Rest(Vec::new())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_to_their_units() {
        assert_eq!(measure("70 °F to 90 °F"), "70\u{a0}°F to 90\u{a0}°F");
        assert_eq!(measure("at least 30 min"), "at least 30\u{a0}min");
        assert_eq!(measure("1 of 5 pieces"), "1 of 5\u{a0}pieces");
        assert_eq!(measure("no rust"), "no rust");
        assert_eq!(measure(""), "");
    }

    #[test]
    fn moments_are_printed_as_recorded() {
        assert_eq!(moment("2026-11-24T09:40-05:00"), "2026-11-24 09:40\u{a0}-05:00");
        assert_eq!(moment("2026-11-24T09:40:00Z"), "2026-11-24 09:40:00Z");
        assert_eq!(moment("2026-11-24"), "2026-11-24");
        assert_eq!(moment("Tuesday"), "Tuesday");
    }

    #[test]
    fn the_template_parses() {
        assert!(Template::new().is_ok());
    }
}
