//! The standards' own rules, written here from them and not from our code: W3C Verifiable Credentials Data Model 2.0
//! sections 4.2 to 4.12, Data Integrity 1.0 section 2.1, and the JSON Schema of UNTP 0.7.0 for its Digital Conformity
//! Credential (required members, code lists, objects that take no others).

use serde_json::Value;

use super::pairs;

/// What the schema of the vocabulary asks of its kinds of node: members that must be there, and, where a node takes
/// no others, those it may have beside them.
type Kind = (&'static str, &'static [&'static str], Option<&'static [&'static str]>);

const KINDS: &[Kind] = &[
    ("CredentialIssuer", &["id", "name"], None),
    (
        "ConformityAttestation",
        &[
            "id",
            "name",
            "assessorLevel",
            "assessmentLevel",
            "attestationType",
            "issuedToParty",
            "referenceScheme",
        ],
        None,
    ),
    ("Party", &["id", "name"], None),
    ("ConformityScheme", &["id", "name"], None),
    (
        "ConformityAssessment",
        &["id", "name", "assessmentCriteria", "assessmentDate", "assessedPerformance", "conformityTopic"],
        None,
    ),
    ("Criterion", &["id", "name"], None),
    ("Standard", &["id", "name"], None),
    ("Product", &["id", "name"], None),
    ("PerformanceMetric", &["id", "name"], None),
];

fn text<'v>(value: &'v Value, pointer: &str) -> &'v str {
    value.pointer(pointer).and_then(Value::as_str).unwrap_or_else(|| panic!("{pointer} is no text"))
}

/// A URL of the kinds used here: a scheme, a colon, and no character that must be escaped.
fn is_url(text: &str) -> bool {
    let scheme = text.split(':').next().unwrap();
    let legal = |c: char| c.is_ascii_alphanumeric() || "-._~:/?#[]@!$&'()*+,;=%".contains(c);
    text.contains(':')
        && scheme.chars().all(|c| c.is_ascii_lowercase())
        && text.chars().all(legal)
        && text.matches('#').count() <= 1
}

/// XML Schema's dateTimeStamp: a time with its offset.
fn is_date_time_stamp(text: &str) -> bool {
    let (moment, offset) = match text.strip_suffix('Z') {
        Some(moment) => (moment, "+00:00"),
        None => text.split_at(text.len() - 6),
    };
    let shape = |text: &str, pattern: &str| {
        text.len() == pattern.len()
            && text
                .chars()
                .zip(pattern.chars())
                .all(|(c, p)| if p == '0' { c.is_ascii_digit() } else { c == p })
    };
    shape(moment, "0000-00-00T00:00:00") && (shape(offset, "+00:00") || shape(offset, "-00:00"))
}

fn only(value: &Value, may: &[&str], what: &str) {
    for name in value.as_object().unwrap().keys() {
        assert!(may.contains(&name.as_str()), "{what} takes no {name}");
    }
}

/// Every node with its type, by the table; and no `null`, no number that is not whole, no empty text anywhere.
fn nodes(value: &Value, found: &mut usize) {
    match value {
        Value::Object(members) => {
            if let Some(kinds) = members.get("type").and_then(Value::as_array) {
                for kind in kinds.iter().map(|k| k.as_str().unwrap()) {
                    if let Some((_, required, may)) = KINDS.iter().find(|(name, ..)| *name == kind) {
                        *found += 1;
                        for name in *required {
                            assert!(members.contains_key(*name), "{kind} without {name}");
                        }
                        assert!(is_url(members["id"].as_str().unwrap()), "{}", members["id"]);
                        if let Some(may) = may {
                            only(value, may, kind);
                        }
                    } else {
                        let whole = ["DigitalConformityCredential", "VerifiableCredential"];
                        assert!(whole.contains(&kind), "{kind} is no kind of the vocabulary");
                    }
                }
            }
            members.values().for_each(|member| nodes(member, found));
        }
        Value::Array(items) => items.iter().for_each(|item| nodes(item, found)),
        Value::Null => panic!("a member that says nothing"),
        Value::Number(number) => assert!(number.is_u64(), "{number}"),
        Value::String(text) => assert!(!text.is_empty()),
        Value::Bool(_) => {}
    }
}

#[test]
fn the_data_models_members_are_there() {
    for (number, pair) in pairs() {
        let whole = &pair.credential;
        // 4.3: the first context is the data model's; the vocabulary's schema names the second.
        let contexts =
            ["https://www.w3.org/ns/credentials/v2", "https://vocabulary.uncefact.org/untp/0.7.0/context/"];
        assert_eq!(whole["@context"], serde_json::json!(contexts), "{number}");
        // 4.5: types, among them the data model's own.
        let kinds = whole["type"].as_array().unwrap();
        for kind in ["VerifiableCredential", "DigitalConformityCredential"] {
            assert!(kinds.contains(&kind.into()), "{number}");
        }
        // 4.4, 4.7: identifiers are URLs; 4.9: times are dateTimeStamps; 4.8: a subject.
        assert!(is_url(text(whole, "/id")) && is_url(text(whole, "/issuer/id")), "{number}");
        assert!(text(whole, "/issuer/id").starts_with("did:key:z6Mk"), "{number}");
        assert!(is_date_time_stamp(text(whole, "/validFrom")), "{number}");
        assert!(!whole["name"].as_str().unwrap().is_empty() && whole["credentialSubject"].is_object());
        // RFC 9562 section 5.8: version 8, variant 10.
        let id = text(whole, "/id").strip_prefix("urn:uuid:").unwrap();
        assert!(id.len() == 36 && &id[14..15] == "8" && "89ab".contains(&id[19..20]), "{id}");
        // 4.12 and Data Integrity 2.1.
        let proof = &whole["proof"];
        for name in ["type", "cryptosuite", "created", "verificationMethod", "proofPurpose", "proofValue"] {
            assert!(proof[name].is_string(), "{number}: proof without {name}");
        }
        assert_eq!(
            (text(proof, "/type"), text(proof, "/proofPurpose")),
            ("DataIntegrityProof", "assertionMethod")
        );
        assert!(is_date_time_stamp(text(proof, "/created")), "{number}");
        let (controller, fragment) = text(proof, "/verificationMethod").split_once('#').unwrap();
        assert_eq!(controller, text(whole, "/issuer/id"));
        assert_eq!(controller.strip_prefix("did:key:"), Some(fragment));
        let known = [
            "@context",
            "id",
            "type",
            "name",
            "description",
            "issuer",
            "validFrom",
            "credentialSubject",
            "proof",
        ];
        only(whole, &known, "a credential");
    }
}

#[test]
fn the_vocabularys_schema_is_kept() {
    for (number, pair) in pairs() {
        let mut found = 0;
        nodes(&pair.credential, &mut found);
        let subject = &pair.credential["credentialSubject"];
        let assessments = subject["conformityAssessment"].as_array().unwrap();
        assert_eq!(found, 4 + 5 * assessments.len(), "{number}: every node has its type");
        assert!(!assessments.is_empty());
        let levels = ["self", "commercial", "buyer", "membership", "unspecified", "3rdParty", "hybrid"];
        assert!(levels.contains(&text(subject, "/assessorLevel")));
        let backed = [
            "authority-benchmark",
            "authority-mandate",
            "authority-globalmra",
            "authority-peer",
            "authority-extended-mra",
            "scheme-self",
            "scheme-cab",
            "no-endorsement",
        ];
        assert!(backed.contains(&text(subject, "/assessmentLevel")));
        let kinds = [
            "certification",
            "declaration",
            "inspection",
            "testing",
            "verification",
            "validation",
            "calibration",
        ];
        assert!(kinds.contains(&text(subject, "/attestationType")));
        // A first party declares; it does not certify (ISO/IEC 17000, recalled).
        assert_eq!(
            (text(subject, "/assessorLevel"), text(subject, "/attestationType")),
            ("self", "declaration")
        );
        for name in ["conformityCertificate", "auditableEvidence"] {
            let link = &subject[name];
            assert!(is_url(text(link, "/linkURL")) && !text(link, "/linkName").is_empty(), "{number}");
            only(link, &["linkURL", "linkName", "digestMultibase", "mediaType", "linkType"], "a link");
        }
        for one in assessments {
            assert!(!one["assessmentCriteria"].as_array().unwrap().is_empty());
            let date = text(one, "/assessmentDate");
            assert!(is_date_time_stamp(&format!("{date}T00:00:00Z")), "{date}");
            assert!(
                one["conformityTopic"].is_array() && one.get("conformance").is_none_or(Value::is_boolean)
            );
            assert!(one["specifiedCondition"].as_array().unwrap().iter().all(Value::is_string));
            for performance in one["assessedPerformance"].as_array().unwrap() {
                only(performance, &["metric", "measure", "score"], "a performance");
                only(&performance["score"], &["code", "rank", "definition"], "a score");
                assert!(performance["score"]["code"].is_string());
            }
            for product in one["assessedProduct"].as_array().unwrap() {
                assert!(!text(product, "/product/batchNumber").is_empty());
            }
        }
    }
}

/// The check above is one: each rule refuses what breaks it.
#[test]
fn the_rules_refuse_what_breaks_them() {
    assert!(is_url("ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk#/lots/0/findings/3"));
    for bad in ["larkspur.example/register", "ni:///sha-256;x y", "did:key:z#a#b", "Nothing:x", ""] {
        assert!(!is_url(bad), "{bad}");
    }
    for good in ["2026-11-25T17:20:31-05:00", "2027-02-01T08:30:00Z"] {
        assert!(is_date_time_stamp(good), "{good}");
    }
    for bad in ["2026-11-25T17:20:31", "2026-11-25 17:20:31Z", "2026-11-25T17:20Z", "2026-11-25"] {
        assert!(!is_date_time_stamp(bad), "{bad}");
    }
    let (_, pair) = pairs().iter().next().unwrap();
    for pointer in
        ["/issuer/name", "/credentialSubject/referenceScheme/id", "/credentialSubject/assessorLevel"]
    {
        let mut spoilt = pair.credential.clone();
        let (parent, name) = pointer.rsplit_once('/').unwrap();
        spoilt.pointer_mut(parent).unwrap().as_object_mut().unwrap().remove(name);
        assert!(std::panic::catch_unwind(|| nodes(&spoilt, &mut 0)).is_err(), "{pointer}");
    }
}
