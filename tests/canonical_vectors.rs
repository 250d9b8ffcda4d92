//! Canonical JSON and stamps against published values, through the public functions.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::canonical::CanonicalError;
use brightproof::canonical::canonical;
use brightproof::canonical::parse_canonical;
use brightproof::canonical::parse_strict;
use brightproof::canonical::stamp;

/// The RFC 8785 samples (cyberphone/json-canonicalization): input, canonical bytes in hex, SHA-256 of
/// those. Two hold numbers that a certificate must not: they are refused, and for that reason.
#[test]
fn rfc_8785_samples() {
    macro_rules! sample {
        ($name:literal) => {
            (
                include_bytes!(concat!("vectors/jcs/input/", $name, ".json")).as_slice(),
                include_str!(concat!("vectors/jcs/outhex/", $name, ".txt")),
            )
        };
    }
    let taken = [
        (sample!("arrays"), "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42"),
        (sample!("french"), "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5"),
        (sample!("unicode"), "0d99aad92a125196ff887876643fd3206786a84ddce2cee52ba4ad256d2381d3"),
        (sample!("weird"), "6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1"),
    ];
    for ((input, outhex), sha256) in taken {
        let expected = hex::decode(outhex.split_whitespace().collect::<String>()).unwrap();
        let value = parse_strict(input).unwrap();
        assert_eq!(canonical(&value).unwrap(), expected);
        assert_eq!(parse_canonical(&expected).unwrap(), value);
        assert_eq!(stamp(&expected), sha256);
    }
    for ((input, _), number) in [(sample!("structures"), "56.0"), (sample!("values"), "333333333.3333333")] {
        assert_eq!(parse_strict(input), Err(CanonicalError::Number { found: number.into() }));
    }
}

/// FIPS 180-4 and NIST CAVP (CAVS 21.3 short messages): lengths on both sides of the padding's edges.
#[test]
fn sha_256() {
    let rows: &[(&[u8], &str)] = &[
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (
            b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu",
            "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1",
        ),
    ];
    for (message, expected) in rows {
        assert_eq!(stamp(message), *expected);
    }
    let in_hex = [
        ("d3", "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1"),
        ("b4190e", "dff2e73091f6c05e528896c4c831b9448653dc2ff043528f6769437bc7b975c2"),
        (
            "08f645ff0f9a765593bd419ff60a308d3b4e70e816388577455d3c1f237ee14d7b0eb3999aef95a3a87d064138cd53dd1d360b187f11b4b3",
            "76f082a9a8e45c02a376ee1b42629cfb5db30e0ba1632f19cd28c96363f9da66",
        ),
        (
            "e2f76e97606a872e317439f1a03fcd92e632e5bd4e7cbc4e97f1afc19a16fde92d77cbe546416b51640cddb92af996534dfd81edb17c4424cf1ac4d75aceeb",
            "18041bd4665083001fba8c5411d2d748e8abbfdcdfd9218cb02b68a78e7d4c23",
        ),
        (
            "3d007ab1483de3511ce9a7edc7a9610bcacac0ec6f3d7cb45de08fcc6a00a185b01bc4fee3ea6147e29e72c68b6bf2dad44392bf17e4aeb2ae147f55c02b9254",
            "b9e850d487a74e6b8e07330b7648b6c1aa84cdcc16b238c96d47613de313e2f9",
        ),
    ];
    for (message, expected) in in_hex {
        assert_eq!(stamp(&hex::decode(message).unwrap()), expected);
    }
    let million = vec![b'a'; 1_000_000];
    assert_eq!(stamp(&million), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}
