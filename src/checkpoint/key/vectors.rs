//! Published Ed25519 values, driven through our keys: RFC 8032 section 7.1 and Wycheproof.

use serde::Deserialize;

use super::Role;
use super::SigningKey;
use super::VerifyKey;

#[derive(Deserialize)]
struct Wycheproof {
    groups: Vec<Group>,
}

#[derive(Deserialize)]
struct Group {
    pk: String,
    tests: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Case {
    tc_id: u32,
    comment: String,
    msg: String,
    sig: String,
    result: String,
}

fn bytes(hex_text: &str) -> Vec<u8> {
    hex::decode(hex_text).unwrap()
}

fn seed(hex_text: &str) -> [u8; 32] {
    bytes(hex_text).try_into().unwrap()
}

fn key(public: &str) -> VerifyKey {
    let key = ed25519_dalek::VerifyingKey::from_bytes(&seed(public)).unwrap();
    VerifyKey::new("register.example".to_owned(), Role::Register, key)
}

fn strictly(public: &str, message: &str, signature: &str) -> bool {
    key(public).holds(&bytes(message), &bytes(signature))
}

#[test]
fn all_151_wycheproof_signatures_end_as_they_must() {
    let file: Wycheproof =
        serde_json::from_str(include_str!("../../../tests/vectors/wycheproof/ed25519_test.json")).unwrap();
    let (mut valid, mut invalid) = (0, 0);
    for group in file.groups {
        for case in group.tests {
            let holds = strictly(&group.pk, &case.msg, &case.sig);
            assert_eq!(holds, case.result == "valid", "case {} ({})", case.tc_id, case.comment);
            if holds { valid += 1 } else { invalid += 1 }
        }
    }
    assert_eq!((valid, invalid), (88, 63));
}

/// RFC 8032 section 7.1: seed, public key, message, signature.
const RFC_8032: [[&str; 4]; 4] = [
    [
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ],
    [
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ],
    [
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ],
    [
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704",
    ],
];

#[test]
fn rfc_8032_signatures_are_made_and_taken() {
    for [secret, public, message, signature] in RFC_8032 {
        let signer = SigningKey::from_seed("register.example", &seed(secret)).unwrap();
        assert_eq!(signer.verify_key(), key(public));
        assert_eq!(hex::encode(signer.signature(&bytes(message))), signature);
        assert!(strictly(public, message, signature));
        assert!(!strictly(public, &format!("{message}00"), signature));
    }
}

#[test]
fn a_low_order_key_never_holds() {
    // C2SP/CCTV ed25519vectors 0: key and signature of zeros, which a lax check takes
    let (zeros, message) = ("00".repeat(32), hex::encode("ed25519vectors 3"));
    assert!(!strictly(&zeros, &message, &"00".repeat(64)));
    let refused = VerifyKey::parse(&key(&zeros).to_string()).unwrap_err().to_string();
    assert!(refused.contains("weak key"), "{refused}");
}
