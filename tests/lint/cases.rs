//! Mistakes in a pack, one a row.

use brightproof::lint::Weight;
use brightproof::lint::Weight::Fault;
use brightproof::lint::Weight::Remark;

/// One mistake in the sound pack: the text it replaces, and what must be said.
pub struct Case {
    pub from: &'static str,
    pub to: &'static str,
    pub weight: Weight,
    pub requirement: &'static str,
    pub field: &'static str,
    pub found: &'static str,
}

const fn case(
    (from, to): (&'static str, &'static str),
    weight: Weight,
    requirement: &'static str,
    field: &'static str,
    found: &'static str,
) -> Case {
    Case { from, to, weight, requirement, field, found }
}

pub const WHEN_WARM: &str = "{ treatments: [warm], editions: [\"B\"] }";
const WARM: &str = "{ within: [{ from: 120 °F, to: 140 °F }, { from: 50 °C, to: 60 °C }] }";
const COLD: &str = "{ within: [{ from: 70 °F, to: 90 °F }, { unit: °C, basis: unsure }] }";
const GRADES: &str = "{ series: [martensitic 400 series], free_machining: true, chromium_below: 13 wt% }";

pub const CASES: &[Case] = &[
    // names
    case(("pack: own-9", "pack: Own_9"), Fault, "-", "pack", "`Own_9`"),
    case(("pack: own-9", "pack: astm-a967"), Remark, "-", "pack", "has already"),
    case(("designation: Own 9", "designation: \"\""), Fault, "-", "designation", "nothing"),
    case(("about: An invented standard.", "about: \"\""), Remark, "-", "about", "nothing"),
    case(
        (
            "also_written: [OWN9]\neditions: [\"A\", \"B\"]",
            "also_written: [A967]\neditions: [\"A\", \"B\", \"17\"]",
        ),
        Fault,
        "-",
        "editions[2]",
        "`A967-17`, which the pack `astm-a967` answers to as well",
    ),
    case(("id: class-1.time", "id: Class1"), Fault, "Class1", "id", "`Class1`"),
    case(("id: class-2.time", "id: class-1.time"), Fault, "class-1.time", "id", "a second time"),
    case(("clause: \"2.2\"\n", "clause: \" \"\n"), Fault, "cold.temperature", "clause", "no clause"),
    case(("clause: \"2.2\"\n", "clause: house\n"), Fault, "cold.temperature", "clause", "`house`"),
    case(
        ("name: Cold, clause: \"2.2\"", "name: Cold, clause: \"\""),
        Fault,
        "-",
        "treatments[1].clause",
        "no clause",
    ),
    // editions, classes, treatments, tests
    case(
        ("editions: [\"A\", \"B\"]", "editions: [\"A\", \"B\", \"A\"]"),
        Fault,
        "-",
        "editions[2]",
        "a second time",
    ),
    case(("{ A: B }", "{ A: C }"), Fault, "-", "superseded_by.A", "edition `C`"),
    case(("{ A: B }", "{ Z: B }"), Fault, "-", "superseded_by.Z", "edition `Z`"),
    case(("{ A: B }", "{ A: A }"), Fault, "-", "superseded_by.A", "by itself"),
    case(("default_class: \"2\"", "default_class: \"3\""), Fault, "-", "default_class", "class `3`"),
    case(
        ("class: \"2\", name: Class 2", "class: \"1\", name: Class 2"),
        Fault,
        "-",
        "classes[1].class",
        "a second time",
    ),
    case(
        ("default_class: \"2\"\n", "default_class: \"2\"\nbuilds_on: own-9\n"),
        Fault,
        "-",
        "builds_on",
        "itself",
    ),
    case(
        ("default_class: \"2\"\n", "default_class: \"2\"\nbuilds_on: astm-a976\n"),
        Fault,
        "-",
        "builds_on",
        "`astm-a976`",
    ),
    case(("test_pieces: 1", "test_pieces: 0"), Fault, "-", "test_pieces", "0 pieces"),
    case(
        ("{ id: cold, name: Cold", "{ id: cold, name: Warm"),
        Fault,
        "-",
        "treatments[1].name",
        "a second time",
    ),
    case(
        ("{ id: cold, name: Cold", "{ id: cool, name: Cold"),
        Fault,
        "cold.temperature",
        "when.treatments[0]",
        "`cold`",
    ),
    case(
        ("\ntests:\n", "\n  - { id: hot, name: Hot, clause: \"2.3\", step: passivate }\ntests:\n"),
        Remark,
        "-",
        "treatments[2].id",
        "`hot`",
    ),
    case(
        ("\ndefault_class", "\n  - { class: \"3\", name: Class 3, clause: \"1\" }\ndefault_class"),
        Remark,
        "-",
        "classes[2].class",
        "class `3`",
    ),
    case(
        (
            "{ tests: [salt spray, copper sulfate] }\n    subject: test\n",
            "{ tests: [copper sulfate] }\n    subject: test\n",
        ),
        Fault,
        "-",
        "tests[0].test",
        "without a requirement on `test`",
    ),
    case(
        (
            "{ tests: [salt spray, copper sulfate] }\n    subject: test result",
            "{ tests: [copper sulfate] }\n    subject: test result",
        ),
        Fault,
        "-",
        "tests[0].test",
        "`test result`",
    ),
    case(
        (
            "{ tests: [salt spray, copper sulfate] }\n    subject: pieces",
            "{ tests: [copper sulfate] }\n    subject: pieces",
        ),
        Fault,
        "-",
        "tests[0].test",
        "`pieces tested`",
    ),
    case(
        (
            "subject: use of the part\n    check: { one_of: [aerospace, general] }",
            "subject: class\n    check: present",
        ),
        Fault,
        "-",
        "tests[1].test",
        "without a gate on `use of the part`",
    ),
    case(
        ("when: { tests: [salt spray, copper sulfate] }\n    subject: pieces", "subject: pieces"),
        Remark,
        "tests.pieces",
        "",
        "no test in particular",
    ),
    // conditions
    case((WHEN_WARM, "{ treatments: [warn] }"), Fault, "warm.temperature", "when.treatments[0]", "`warn`"),
    case(
        (WHEN_WARM, "{ treatments: [warm], editions: [\"C\"] }"),
        Fault,
        "warm.temperature",
        "when.editions[0]",
        "edition `C`",
    ),
    case(
        (WHEN_WARM, "{ treatments: [warm, warm] }"),
        Remark,
        "warm.temperature",
        "when.treatments[1]",
        "a second time",
    ),
    case(
        ("{ classes: [\"1\"] }", "{ classes: [\"1\", \"4\"] }"),
        Fault,
        "class-1.time",
        "when.classes[1]",
        "class `4`",
    ),
    case(
        (
            "{ tests: [copper sulfate] }\n    subject: chromium",
            "{ tests: [copper sulfate, damp cloth] }\n    subject: chromium",
        ),
        Fault,
        "swab.chromium",
        "when.tests[1]",
        "`damp cloth`",
    ),
    case(
        (GRADES, "{ series: [duplex], free_machining: true }"),
        Fault,
        "bath",
        "when",
        "duplex, free-machining",
    ),
    case(
        (GRADES, "{ series: [martensitic 400 series], chromium_below: 5 wt% }"),
        Fault,
        "bath",
        "when",
        "chromium below 5 wt%",
    ),
    case((GRADES, "{ chromium_below: 16 vol% }"), Fault, "bath", "when.chromium_below", "16 vol%"),
    // checks
    case(
        ("check: { only: [nitric acid, water] }", "check: passed"),
        Fault,
        "bath",
        "check",
        "`passed` on `bath ingredients`",
    ),
    case(
        ("check: { only: [nitric acid, water] }", "check: { within: [{ from: 1 h, to: 2 h }] }"),
        Fault,
        "bath",
        "check",
        "`within`",
    ),
    case(
        ("check: { at_least: [{ value: 30 min }] }", "check: passed"),
        Fault,
        "class-1.time",
        "check",
        "`passed`",
    ),
    case(
        ("check: { at_least: [{ value: 30 min }] }", "check: { one_of: [long] }"),
        Fault,
        "class-1.time",
        "check",
        "`one_of`",
    ),
    case(("check: passed", "check: present"), Fault, "tests.result", "check", "`present` on `test result`"),
    case(
        ("check: { times_ordered: 1 }", "check: { times_ordered: 0 }"),
        Fault,
        "tests.pieces",
        "check.times_ordered",
        "0 times",
    ),
    case(
        ("{ one_of: [300 series] }", "{ one_of: [300-series] }"),
        Fault,
        "swab.alloy",
        "check.one_of[0]",
        "`300-series`",
    ),
    case(
        ("{ one_of: [aerospace, general] }", "{ one_of: [aerospace, food] }"),
        Fault,
        "swab.use",
        "check.one_of[1]",
        "`food`",
    ),
    case(
        ("{ one_of: [Warm, Cold] }", "{ one_of: [Warm, Cool] }"),
        Fault,
        "treatment.named",
        "check.one_of[1]",
        "`Cool`",
    ),
    case(
        ("{ none_of: [carburized] }", "{ none_of: [carburised] }"),
        Fault,
        "parts",
        "check.none_of[0]",
        "`carburised`",
    ),
    case(("{ none_of: [carburized] }", "{ none_of: [] }"), Fault, "parts", "check.none_of", "no word"),
    case(
        ("{ only: [nitric acid, water] }", "{ only: [nitric acid, water, water] }"),
        Remark,
        "bath",
        "check.only[2]",
        "a second time",
    ),
    case(
        ("{ only: [nitric acid, water] }", "{ only: [nitric acid, \" \"] }"),
        Fault,
        "bath",
        "check.only[1]",
        "an empty word",
    ),
    // figures
    case((WARM, "{ within: [] }"), Fault, "warm.temperature", "check.within", "no figure"),
    case(
        (WARM, "{ within: [{ from: 20 min, to: 30 min }] }"),
        Fault,
        "warm.temperature",
        "check.within[0].from",
        "20 min",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F }, { unit: min, basis: unsure }] }"),
        Fault,
        "cold.temperature",
        "check.within[1].unit",
        "the unit min",
    ),
    case(
        (WARM, "{ within: [{ from: 140 °F, to: 120 °F }, { from: 50 °C, to: 60 °C }] }"),
        Fault,
        "warm.temperature",
        "check.within[0]",
        "140 °F to 120 °F",
    ),
    case(
        (WARM, "{ within: [{ from: 120 °F, to: 60 °C }] }"),
        Fault,
        "warm.temperature",
        "check.within[0]",
        "120 °F to 60 °C",
    ),
    case(
        (
            WARM,
            "{ within: [{ from: 120 °F, to: 140 °F }, { from: 50 °C, to: 60 °C }, { from: 70 °F, to: 80 °F }] }",
        ),
        Fault,
        "warm.temperature",
        "check.within[2]",
        "two figures in °F",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F }, { basis: unsure }] }"),
        Fault,
        "cold.temperature",
        "check.within[1]",
        "neither value nor unit",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F, basis: unsure }] }"),
        Fault,
        "cold.temperature",
        "check.within[0]",
        "unsure figure with a value",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F }, { unit: °C }] }"),
        Fault,
        "cold.temperature",
        "check.within[1]",
        "without its value",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F, unit: °F }] }"),
        Fault,
        "cold.temperature",
        "check.within[0].unit",
        "a unit beside a value",
    ),
    case(
        (COLD, "{ within: [{ from: 70 °F, to: 90 °F }] }"),
        Remark,
        "cold.temperature",
        "check.within",
        "inch-pound units only",
    ),
    case(
        (COLD, "{ within: [{ from: 20 °C, to: 30 °C }] }"),
        Remark,
        "cold.temperature",
        "check.within",
        "metric units only",
    ),
    // demands
    case(
        (
            "subject: condition of the part\n    check: { none_of: [carburized] }",
            "subject: operators\n    check: own_limit",
        ),
        Fault,
        "parts",
        "subject",
        "`operators`",
    ),
    case(
        ("remedy: record it", "remedy: adopt the rule"),
        Fault,
        "treatment.named",
        "remedy",
        "`adopt the rule`",
    ),
    case(
        (
            "when: { classes: [\"2\"] }\n    subject: immersion time\n    check: { at_least: [{ value: 20 min }] }",
            "when: { classes: [\"1\"] }\n    subject: immersion time\n    check: { at_least: [{ value: 30 min }] }",
        ),
        Fault,
        "class-2.time",
        "",
        "what `class-1.time` demands already",
    ),
];
