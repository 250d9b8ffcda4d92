//! An RFC 3161 answer, and what is kept of it.
#![no_main]

use brightproof::time_stamp;
use brightproof::time_stamp::Anchor;
use brightproof::time_stamp::Request;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = Anchor::read(bytes);
    let Ok(request) = Request::new([7; 32], None, [7; 16]) else { return };
    let _ = request.to_der();
    let Ok(anchor) = Anchor::read(include_bytes!("root.der")) else { return };
    let _ = time_stamp::check(bytes, &[7; 32], &anchor);
    let _ = time_stamp::accept(&request, bytes, &anchor);
});
