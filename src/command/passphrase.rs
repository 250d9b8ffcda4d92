//! Where passphrases come from: a file, a file descriptor, the environment, or somebody at the keyboard. Never the
//! command line itself, which every user of the machine can read and a shell writes down.

use std::io;
use std::io::IsTerminal;
use std::io::Read;
use std::path::Path;

use zeroize::Zeroizing;

use crate::app::error::Error;
use crate::cli::Key;
use crate::folder;
use crate::seal;

/// A passphrase. Wiped when dropped.
pub type Secret = Zeroizing<Vec<u8>>;

/// No passphrase is longer than this, in bytes.
const LONGEST: usize = 4096;

/// The passphrase of the seal key, by whichever way was named, else from a prompt.
pub fn of_key(key: &Key) -> Result<Secret, Error> {
    match named(key)? {
        Some(secret) => Ok(secret),
        None => ask("Passphrase of the seal key"),
    }
}

/// A passphrase for a new seal key: typed, it is typed twice, because nobody can open a key locked by a slip.
pub fn of_new_key(key: &Key) -> Result<Secret, Error> {
    if let Some(secret) = named(key)? {
        return Ok(secret);
    }
    let first = ask("New passphrase of the seal key")?;
    if *ask("The same again")? != *first {
        return Err(Error::cannot("the two are not the same", "type it twice alike"));
    }
    Ok(first)
}

/// The PIN of a token.
pub fn of_token(key: &Key, token: &str) -> Result<Secret, Error> {
    match named(key)? {
        Some(secret) => Ok(secret),
        None => ask(&format!("PIN of the token {token}")),
    }
}

fn named(key: &Key) -> Result<Option<Secret>, Error> {
    Ways { file: key.passphrase_file.as_deref(), fd: key.passphrase_fd, env: key.passphrase_env.as_deref() }
        .take()
}

/// The ways a passphrase can be named; at most one of them.
#[derive(Debug, Clone, Copy)]
pub struct Ways<'a> {
    /// A file.
    pub file: Option<&'a Path>,
    /// A descriptor.
    pub fd: Option<u32>,
    /// An environment variable.
    pub env: Option<&'a str>,
}

impl Ways<'_> {
    fn take(self) -> Result<Option<Secret>, Error> {
        match (self.file, self.fd) {
            (Some(file), _) => of_file(file).map(Some),
            (None, Some(number)) => of_descriptor(number).map(Some),
            (None, None) => self.env.map(of_environment).transpose(),
        }
    }

    /// The passphrase of a private key's file, if it is locked: by the way that was named, else from the keyboard.
    pub fn open(self, key: &Path, whose: &str) -> Result<Option<Secret>, Error> {
        if !seal::is_encrypted(&Zeroizing::new(folder::read_private(key)?))? {
            return Ok(None);
        }
        Ok(Some(match self.take()? {
            Some(secret) => secret,
            None => ask(&format!("Passphrase of {whose}"))?,
        }))
    }
}

/// The first line of a file.
pub fn of_file(file: &Path) -> Result<Secret, Error> {
    let text = Zeroizing::new(folder::read_text(file)?);
    Ok(Zeroizing::new(text.lines().next().unwrap_or_default().as_bytes().to_vec()))
}

/// Somebody at the keyboard, unseen.
pub fn ask(prompt: &str) -> Result<Secret, Error> {
    const WAYS: &str =
        "name where it comes from: a --...passphrase-file, --...passphrase-fd or --...passphrase-env";
    if !io::stdin().is_terminal() {
        return Err(Error::cannot("the key is locked and no passphrase was given", WAYS));
    }
    rpassword::prompt_password(format!("{prompt}: "))
        .map(|text| Zeroizing::new(text.into_bytes()))
        .map_err(|e| Error::cannot(format!("no passphrase: {e}"), WAYS))
}

/// The first line that comes through a descriptor which whoever started this program left open.
fn of_descriptor(number: u32) -> Result<Secret, Error> {
    let told = |e: io::Error| {
        Error::cannot(
            format!("no passphrase from descriptor {number}: {e}"),
            "open it for this program, as in `--passphrase-fd 3 3< <(agent)`",
        )
    };
    if cfg!(not(unix)) {
        return Err(Error::cannot(
            "this system has no descriptors to read from",
            "give --passphrase-file or --passphrase-env",
        ));
    }
    let file = std::fs::File::open(format!("/dev/fd/{number}")).map_err(told)?;
    match first_line(file).map_err(told)? {
        Some(line) => Ok(line),
        None => Err(told(io::Error::other(format!("its first line has more than {LONGEST} bytes")))),
    }
}

/// The first line, without its end; `None` when it is too long. The bytes never move, so that no copy stays behind.
fn first_line(mut from: impl Read) -> io::Result<Option<Secret>> {
    let mut bytes = Zeroizing::new(vec![0_u8; LONGEST]);
    let mut filled = 0_usize;
    loop {
        if let Some(end) = bytes.iter().take(filled).position(|b| *b == b'\n') {
            filled = end;
            if filled.checked_sub(1).and_then(|last| bytes.get(last)) == Some(&b'\r') {
                filled = filled.saturating_sub(1);
            }
            break;
        }
        let Some(room) = bytes.get_mut(filled..).filter(|room| !room.is_empty()) else { return Ok(None) };
        match from.read(room) {
            Ok(0) => break,
            Ok(more) => filled = filled.saturating_add(more),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    // What was read after the line is wiped with the rest when dropped; shortening a vector moves nothing.
    for byte in bytes.iter_mut().skip(filled) {
        *byte = 0;
    }
    bytes.truncate(filled);
    Ok(Some(bytes))
}

/// The value of an environment variable that an agent set for this program alone.
fn of_environment(name: &str) -> Result<Secret, Error> {
    let value = std::env::var_os(name).ok_or_else(|| {
        Error::cannot(
            format!("the environment has no variable {name}"),
            "have it set for this program alone, or give --passphrase-file",
        )
    })?;
    Ok(Zeroizing::new(value.into_encoded_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives a byte at a time, as a slow pipe does.
    struct Slow<'a>(&'a [u8]);

    impl Read for Slow<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let Some((first, rest)) = self.0.split_first() else { return Ok(0) };
            self.0 = rest;
            buffer[0] = *first;
            Ok(1)
        }
    }

    #[test]
    fn the_first_line_however_it_comes() {
        let line = |bytes: &[u8]| {
            let (whole, slow) = (first_line(bytes).unwrap(), first_line(Slow(bytes)).unwrap());
            assert_eq!(whole.as_deref(), slow.as_deref());
            whole.map(|secret| String::from_utf8(secret.to_vec()).unwrap())
        };
        for (bytes, expected) in [
            (&b"wet rinse\nmore\n"[..], "wet rinse"),
            (b"wet rinse\r\n", "wet rinse"),
            (b"wet rinse", "wet rinse"),
            (b" two  blanks \n", " two  blanks "),
            (b"\n", ""),
            (b"\r\n", ""),
            (b"", ""),
        ] {
            assert_eq!(line(bytes).as_deref(), Some(expected));
        }
        assert_eq!(line(&[b'x'; LONGEST]), None);
        assert!(line(&[b'x'; LONGEST - 1]).is_some());
    }
}
