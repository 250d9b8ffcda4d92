//! A profile: X3P, or a table of text read by the shop's layout and by one that names its columns.
#![no_main]

use std::sync::OnceLock;

use brightproof::trace_file;
use brightproof::trace_form::TraceForms;
use brightproof::yaml;
use libfuzzer_sys::fuzz_target;

const NAMED: &str = "traces:
  - form: named
    what: invented
    layout: { delimiter: \",\", x: X, z: Z, unit_x: mm, unit_z: µm }
";

fuzz_target!(|bytes: &[u8]| {
    static FORMS: OnceLock<TraceForms> = OnceLock::new();
    let forms = FORMS.get_or_init(|| {
        let mut forms: TraceForms =
            yaml::parse(include_str!("../../samples/larkspur/traces.yaml")).expect("the sample's layouts");
        forms.traces.extend(yaml::parse::<TraceForms>(NAMED).expect("a layout").traces);
        forms
    });
    if bytes.starts_with(b"PK") {
        let _ = trace_file::read_x3p(bytes, None);
        let _ = trace_file::read_x3p(bytes, Some(1));
        return;
    }
    for form in &forms.traces {
        let _ = trace_file::read_csv(bytes, &form.layout);
    }
});
