//! The last head, kept in a file outside the database, so that an older copy of the database put
//! back in its place is noticed. The file holds the checkpoint as signed.

use std::fs::File;
use std::io::Write;
use std::path::Path;

use super::error::RegisterError;
use super::reading::Reading;
use crate::merkle::head_text;

/// Longer than any checkpoint; keeps a wrong file from being read whole.
const LONGEST: u64 = 100_000;

/// How the register stands to the head kept outside of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeptHead {
    /// No place for it was given.
    NotAsked,
    /// There is none yet; the next commit writes it.
    Missing,
    /// The register has that head in its past, or now.
    Agrees {
        /// Entries at the kept head.
        size: u64,
    },
    /// The register is not the one that head was of, or an older state of it: nothing may be added.
    Refused {
        /// What was found.
        why: String,
    },
}

/// Compares the kept head with the register.
pub(super) fn compare(kept: Option<&Path>, register: Reading<'_>) -> Result<KeptHead, RegisterError> {
    let Some(path) = kept else { return Ok(KeptHead::NotAsked) };
    let refused = |why: String| Ok(KeptHead::Refused { why });
    if std::fs::metadata(path).is_ok_and(|facts| !facts.is_file() && !facts.is_dir()) {
        // Opening a pipe would wait for whoever writes into it.
        return refused(format!("{} is a pipe or a device, not a head", path.display()));
    }
    let text = match File::open(path) {
        Ok(file) => {
            let mut text = Vec::new();
            let read = std::io::Read::read_to_end(&mut std::io::Read::take(file, LONGEST), &mut text);
            read.map_err(RegisterError::io(path))?;
            text
        }
        Err(missing) if missing.kind() == std::io::ErrorKind::NotFound => return Ok(KeptHead::Missing),
        Err(other) => return Err(RegisterError::io(path)(other)),
    };
    let Ok(text) = String::from_utf8(text) else {
        return refused(format!("{} is not a head", path.display()));
    };
    let mut lines = text.lines();
    let (Some(origin), Some(size)) = (lines.next(), lines.next().and_then(|size| size.parse::<u64>().ok()))
    else {
        return refused(format!("{} is not a head", path.display()));
    };
    let own = register.origin()?;
    if origin != own {
        return refused(format!("the kept head is of {origin}, the register is {own}"));
    }
    let now = register.size()?;
    if size > now {
        return refused(format!("it has {now} entries, but {size} were kept as its head"));
    }
    // The head's own text is remade from the register, so the kept one is never interpreted.
    let root = register.frontier(size)?.root();
    if !text.starts_with(&head_text(&own, size, &root)) {
        return refused(format!("its first {size} entries are not those kept as its head"));
    }
    Ok(KeptHead::Agrees { size })
}

/// Puts `text` in the file's place: the old head or the new one is there at any moment.
///
/// `step` is asked before each step that changes a file.
pub(super) fn write(
    path: &Path,
    text: &str,
    step: &dyn Fn(&str) -> Result<(), RegisterError>,
) -> Result<(), RegisterError> {
    let mut aside = path.as_os_str().to_owned();
    aside.push(".new");
    let aside = Path::new(&aside);
    let write = || {
        step("write the head aside")?;
        let write = || {
            let mut file = File::create(aside)?;
            file.write_all(text.as_bytes())?;
            file.sync_all()
        };
        write().map_err(RegisterError::io(aside))?;
        step("put the head in place")?;
        std::fs::rename(aside, path).map_err(RegisterError::io(path))
    };
    let written = write();
    if written.is_err() {
        // The first error is the one worth telling; what it left is of no use.
        let _ = std::fs::remove_file(aside);
    }
    written?;
    sync_folder(path)
}

/// Makes a rename in the file's folder last through a power cut, where the system can.
pub(super) fn sync_folder(path: &Path) -> Result<(), RegisterError> {
    #[cfg(unix)]
    {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(RegisterError::io(folder))?;
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_head_is_replaced_whole_or_not_at_all() {
        let folder = std::env::temp_dir().join(format!("brightproof-kept-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join("head");
        write(&path, "one", &|_| Ok(())).unwrap();
        for stop in ["write the head aside", "put the head in place"] {
            let asked = |step: &str| match step == stop {
                true => Err(RegisterError::Fault(step.to_owned())),
                false => Ok(()),
            };
            assert!(write(&path, "two", &asked).is_err());
            assert_eq!(std::fs::read_to_string(&path).unwrap(), "one");
            assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1, "nothing else is left");
        }
        write(&path, "two", &|_| Ok(())).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "two");
        assert!(matches!(write(&folder, "x", &|_| Ok(())), Err(RegisterError::Io { .. })));
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
