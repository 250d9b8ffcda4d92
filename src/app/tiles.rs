//! The register as static files for any file host (C2SP tlog-tiles): hashes in tiles of 256, the public leaves, and
//! the signed head, which is written last.
//!
//! ```text
//! checkpoint                      the newest signed head
//! tile/0/000  tile/0/001.p/44     hashes, level 0 those of the leaves; the last tile of a level is partial
//! tile/entries/000                the leaves themselves, each behind its length in two bytes
//! ```
//!
//! A partial tile stays until the whole one is there: heads published before still need it.

use std::path::Path;

use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::proofs;
use crate::checkpoint;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::merkle::Hash;
use crate::register::Register;

/// Hashes in a whole tile, as a power of two.
const HEIGHT: u8 = 8;
/// Hashes in a whole tile.
const WIDTH: u64 = 1 << HEIGHT;

/// What an export did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tiles {
    /// Entries under the head that was written.
    pub size: u64,
    /// Files that were not there, or not the same.
    pub written: u64,
}

/// Writes the register's tiles into a folder, or brings one up to date.
///
/// # Errors
/// When the folder holds another register's head, or one this register never had; nothing is written then.
pub fn export(folder: &Folder, register: &Register, out: &Path) -> Result<Tiles, Error> {
    let (size, head) = proofs::published(folder, register)?;
    same_log(folder, register, out, size)?;
    let mut written = 0_u64;
    let mut put = |path: String, bytes: &[u8]| -> Result<(), Error> {
        let path = out.join(path);
        if folder::read(&path).is_ok_and(|there| there == bytes) {
            return Ok(());
        }
        folder::write_whole(&path, bytes)?;
        written = written.saturating_add(1);
        Ok(())
    };
    for (index, width) in row(size, 0) {
        put(format!("tile/entries/{}", name(index, width)), &bundle(register, index, width)?)?;
    }
    for level in 0..=63 / HEIGHT {
        for (index, width) in row(size, level) {
            let from = index.saturating_mul(WIDTH);
            let hashes: Vec<Hash> = register.hashes(level * HEIGHT, from, width)?;
            put(format!("tile/{level}/{}", name(index, width)), &hashes.concat())?;
        }
    }
    put("checkpoint".to_owned(), head.as_bytes())?;
    // Only now does nothing that is published need them.
    for level in (0..=63 / HEIGHT).map(|l| l.to_string()).chain(["entries".to_owned()]) {
        let row = row(size, level.parse().unwrap_or(0));
        for (index, _) in row.into_iter().filter(|(_, width)| *width == WIDTH) {
            folder::remove_folder(&out.join(format!("tile/{level}/{}.p", number(index))))?;
        }
    }
    Ok(Tiles { size, written })
}

/// The tiles of a level in a tree of `size` leaves: index and how many hashes.
fn row(size: u64, level: u8) -> Vec<(u64, u64)> {
    let hashes = size >> (u32::from(level) * u32::from(HEIGHT));
    let whole = (0..hashes / WIDTH).map(|index| (index, WIDTH));
    let rest = hashes % WIDTH;
    whole.chain((rest > 0).then_some((hashes / WIDTH, rest))).collect()
}

/// The path of a tile within its level.
fn name(index: u64, width: u64) -> String {
    match width {
        WIDTH => number(index),
        partial => format!("{}.p/{partial}", number(index)),
    }
}

/// An index in groups of three digits, all but the last behind an `x`: 1234067 is `x001/x234/067`.
fn number(index: u64) -> String {
    let mut text = format!("{:03}", index % 1000);
    let mut rest = index / 1000;
    while rest > 0 {
        text = format!("x{:03}/{text}", rest % 1000);
        rest /= 1000;
    }
    text
}

/// Leaves one behind the other, each behind its length.
fn bundle(register: &Register, index: u64, width: u64) -> Result<Vec<u8>, Error> {
    let from = index.saturating_mul(WIDTH);
    let mut bytes = Vec::new();
    for leaf in register.leaves(from, width)? {
        let length = u16::try_from(leaf.len()).map_err(|_| {
            Error::cannot(format!("an entry from {from} on is longer than a bundle can say"), "report this")
        })?;
        bytes.extend(length.to_be_bytes());
        bytes.extend(leaf);
    }
    Ok(bytes)
}

/// What is published there must be in this register's past: a host that changed its history would be found out, and
/// so would a shop that put an old register back.
fn same_log(folder: &Folder, register: &Register, out: &Path, size: u64) -> Result<(), Error> {
    let text = match folder::read_text(&out.join("checkpoint")) {
        Ok(text) => text,
        Err(FolderError::Missing(_)) => return Ok(()),
        Err(error) => return Err(error.into()),
    };
    let key = VerifyKey::parse(folder.text(files::CHECKPOINT)?.trim())?;
    let there = checkpoint::open(&text, &[key])?;
    let past = there.size <= size && register.root_at(there.size)? == Some(there.root);
    if !past {
        return Err(Error::cannot(
            format!(
                "{} holds a head of {} entries that is not in this register's past",
                out.display(),
                there.size
            ),
            "see that this is the shop's register and no old copy; publish nothing until that is known",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_are_named_and_counted_as_the_format_says() {
        // c2sp.org/tlog-tiles: its example of an index, and its example of a tree of 70,000
        assert_eq!(number(1_234_067), "x001/x234/067");
        assert_eq!((number(0), number(999), number(1000)), ("000".into(), "999".into(), "x001/000".into()));
        let counted = |level| {
            let row = row(70_000, level);
            (row.iter().filter(|t| t.1 == WIDTH).count(), row.last().map(|t| t.1 % WIDTH).unwrap_or(0))
        };
        assert_eq!((counted(0), counted(1), counted(2)), ((273, 112), (1, 17), (0, 1)));
        assert!((3..=7).all(|level| row(70_000, level).is_empty()));
        assert_eq!((row(256, 0), row(256, 1)), (vec![(0, 256)], vec![(0, 1)]));
        assert_eq!(name(0, 1), "000.p/1");
        assert_eq!(row(0, 0), vec![]);
    }
}
