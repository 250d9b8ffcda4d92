//! A service over HTTP on this machine, which answers as a test wishes; and the asking of it.

use brightproof::http;
use brightproof::http::HttpError;
use brightproof::time_stamp;
use std::io::Read;
use std::io::Write;
use std::net::TcpListener;
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;
use std::time::Duration;
use std::time::Instant;

/// What the service does with a request.
pub enum Reply {
    /// Answers with a stamp's media type.
    Stamp(Vec<u8>),
    /// Sends these very bytes and closes.
    Raw(Vec<u8>),
    /// Sends without end.
    Endless,
    /// Takes the request and says nothing.
    Silence,
    /// A byte now and then.
    Drip,
}

/// What a service answers to a request.
pub type Answering = dyn FnMut(&[u8]) -> Reply + Send;

/// The service; it ends when dropped.
pub struct Service {
    pub url: String,
    /// The requests that came, whole.
    pub asked: Arc<Mutex<Vec<Vec<u8>>>>,
    over: Arc<AtomicBool>,
    port: u16,
    thread: Option<JoinHandle<()>>,
}

impl Service {
    pub fn start(mut answering: Box<Answering>) -> Service {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let (over, asked) = (Arc::new(AtomicBool::new(false)), Arc::new(Mutex::new(Vec::new())));
        let (stop, keep) = (over.clone(), asked.clone());
        let thread = std::thread::spawn(move || {
            for stream in listener.incoming() {
                if stop.load(Ordering::SeqCst) {
                    return;
                }
                if let Ok(stream) = stream {
                    serve(stream, &mut answering, &stop, &keep);
                }
            }
        });
        Service { url: format!("http://127.0.0.1:{port}/tsa"), asked, over, port, thread: Some(thread) }
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        let _ = TcpStream::connect(("127.0.0.1", self.port));
        let _ = self.thread.take().unwrap().join();
    }
}

fn serve(
    mut stream: TcpStream,
    answering: &mut Box<Answering>,
    stop: &AtomicBool,
    asked: &Mutex<Vec<Vec<u8>>>,
) {
    let _ = stream.set_read_timeout(Some(Duration::from_secs(5)));
    let mut came = Vec::new();
    let mut buffer = [0; 4096];
    let body = loop {
        let head = came.windows(4).position(|w| w == b"\r\n\r\n").map(|at| at + 4);
        if let Some(head) = head {
            let text = String::from_utf8_lossy(&came[..head]).to_lowercase();
            let length = text.lines().find_map(|l| l.strip_prefix("content-length: "));
            let length: usize = length.map_or(0, |l| l.trim().parse().unwrap());
            if came.len() >= head + length {
                break came[head..head + length].to_vec();
            }
        }
        match stream.read(&mut buffer) {
            Ok(n) if n > 0 => came.extend(&buffer[..n]),
            _ => return,
        }
    };
    asked.lock().unwrap().push(came);
    let wait = |stream: &mut TcpStream, bytes: &[u8]| {
        while !stop.load(Ordering::SeqCst) && stream.write_all(bytes).is_ok() {
            std::thread::sleep(Duration::from_millis(if bytes.len() > 1 { 0 } else { 50 }));
        }
    };
    match answering(&body) {
        Reply::Stamp(bytes) => {
            let _ = stream.write_all(&head(bytes.len()));
            let _ = stream.write_all(&bytes);
        }
        Reply::Raw(bytes) => drop(stream.write_all(&bytes)),
        Reply::Endless => {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\nContent-Type: application/timestamp-reply\r\n\r\n");
            wait(&mut stream, &[0x30; 8192]);
        }
        Reply::Silence => wait(&mut stream, b""),
        Reply::Drip => {
            let _ = stream.write_all(&head(10_000));
            wait(&mut stream, b"0");
        }
    }
}

fn head(length: usize) -> Vec<u8> {
    format!(
        "HTTP/1.1 200 OK\r\nContent-Type: application/timestamp-reply\r\nContent-Length: {length}\r\n\
         Connection: close\r\n\r\n"
    )
    .into_bytes()
}

fn ask(url: &str, body: &[u8], patience: Duration, most: usize) -> Result<Vec<u8>, HttpError> {
    let (kind, accept) = (time_stamp::QUERY, Some(time_stamp::REPLY));
    http::ask(url, &http::Question { kind, accept, body, most, patience })
}

fn asked(reply: impl Fn() -> Reply + Send + 'static, patience: u64) -> Result<Vec<u8>, HttpError> {
    let service = Service::start(Box::new(move |_| reply()));
    ask(&service.url, b"0\x03\x02\x01\x01", Duration::from_millis(patience), 1000)
}

fn with_head(head: &str, body: &str) -> Reply {
    Reply::Raw(
        format!("{head}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}", body.len()).into_bytes(),
    )
}

#[test]
fn a_request_goes_out_as_the_standard_says_and_its_answer_comes_back() {
    let service = Service::start(Box::new(|body: &[u8]| Reply::Stamp([body, b"!"].concat())));
    let answer = ask(&service.url, b"\x00\xff request", Duration::from_secs(5), 1000).unwrap();
    assert_eq!(answer, b"\x00\xff request!");
    let asked = service.asked.lock().unwrap();
    let text = String::from_utf8_lossy(&asked[0]).to_lowercase();
    // RFC 3161 section 3.4.
    assert!(text.starts_with("post /tsa http/1.1\r\n"), "{text}");
    assert!(text.contains("\r\ncontent-type: application/timestamp-query\r\n"), "{text}");
    // Nothing of the shop goes along.
    assert!(text.contains("\r\nuser-agent: brightproof\r\n"), "{text}");
}

#[test]
fn what_is_no_answer_is_named() {
    let said = |reply: fn() -> Reply| asked(reply, 3000).unwrap_err().to_string();
    let reply = "Content-Type: application/timestamp-reply";
    for (found, words) in [
        (
            said(|| with_head("HTTP/1.1 404 Not Found\r\nContent-Type: text/html", "<p>")),
            "status 404, text/html",
        ),
        (
            said(|| with_head("HTTP/1.1 500 No\r\nContent-Type: application/timestamp-reply", "x")),
            "status 500",
        ),
        (said(|| with_head("HTTP/1.1 200 OK\r\nContent-Type: text/html", "log in")), "status 200, text/html"),
        (said(|| with_head("HTTP/1.1 200 OK", "x")), "no media type"),
        (said(|| with_head("HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:1/", "x")), "status 302"),
        (said(|| Reply::Raw(b"not HTTP at all\r\n\r\n".to_vec())), "does not answer"),
        (said(|| Reply::Raw(Vec::new())), "does not answer"),
        (said(|| Reply::Stamp(vec![0; 1001])), "more than 1000 bytes"),
        (said(|| Reply::Endless), "more than 1000 bytes"),
    ] {
        assert!(found.contains(words), "no {words:?} in {found}");
    }
    assert_eq!(asked(|| Reply::Stamp(vec![7; 1000]), 3000).unwrap().len(), 1000);
    // Cut short: fewer bytes than were announced.
    let cut = format!("HTTP/1.1 200 OK\r\n{reply}\r\nContent-Length: 50\r\n\r\nfew");
    assert!(asked(move || Reply::Raw(cut.clone().into_bytes()), 3000).is_err());
}

#[test]
fn a_service_that_keeps_one_waiting_is_left() {
    for reply in [|| Reply::Silence, || Reply::Drip] {
        let begun = Instant::now();
        let found = asked(reply, 400).unwrap_err();
        assert!(matches!(found, HttpError::Silent { .. }), "{found}");
        assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
    }
}

#[test]
fn nobody_there_and_no_address() {
    // A port that was free a moment ago.
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let url = format!("http://127.0.0.1:{port}/");
    let found = ask(&url, b"0", Duration::from_secs(3), 1000).unwrap_err();
    assert!(matches!(found, HttpError::Silent { .. }), "{found}");
    for (url, words) in [
        ("https://stamps.example/", "https, which is not built in"),
        ("ftp://stamps.example/", "no http:// address"),
        ("stamps.example", "no http:// address"),
        ("http://", "no"),
        ("http:// /", "is no address"),
        ("", "no"),
    ] {
        let found = ask(url, b"0", Duration::from_secs(3), 1000).unwrap_err();
        assert!(matches!(found, HttpError::Address { .. }), "{url}: {found}");
        assert!(found.to_string().contains(words), "no {words:?} in {found}");
        assert!(found.hint().is_some());
    }
}
