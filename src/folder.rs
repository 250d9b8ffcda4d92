//! The shop folder on disk: reading its files, listing its folders, writing whole files or none.

mod append;

use std::fs;
use std::io;
use std::io::Read;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

pub use append::append_line;

/// A shop's folder, or any folder read and written file by file.
#[derive(Debug, Clone)]
pub struct Folder {
    root: PathBuf,
}

/// Why a file could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// No such file or folder.
    #[error("{0} does not exist")]
    Missing(String),
    /// Larger than any record.
    #[error("{file} has {size} bytes; at most {most} are read")]
    TooLarge {
        /// Which file.
        file: String,
        /// Its size.
        size: u64,
        /// The largest size read.
        most: u64,
    },
    /// Not UTF-8 text.
    #[error("{0} is not UTF-8 text")]
    NotText(String),
    /// A pipe, a device or the like: reading it may never end.
    #[error("{0} is a pipe or a device, not a file")]
    NotAFile(String),
    /// A file is in the way.
    #[error("{0} is there already")]
    InTheWay(String),
    /// A secret file that others can read.
    #[error("{file} can be read or changed by others than its owner (mode {mode:03o})")]
    Exposed {
        /// Which file.
        file: String,
        /// Its permissions.
        mode: u32,
    },
    /// The system said no.
    #[error("{file}: {source}")]
    System {
        /// Which file.
        file: String,
        /// What the system said.
        source: io::Error,
    },
}

impl FolderError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        if let FolderError::Exposed { file, .. } = self {
            return Some(format!(
                "`chmod 600 {file}`, and ask who could read it; on a share that keeps no modes, mount it with them"
            ));
        }
        Some(
            match self {
                FolderError::Missing(_) => {
                    "check the name; `--shop` names the shop folder, `brightproof init` makes one"
                }
                FolderError::TooLarge { .. } => "check that it is the right file",
                FolderError::NotText(_) => "save it as UTF-8",
                FolderError::NotAFile(_) => "save what it gives as a file first",
                FolderError::InTheWay(_) => "choose another name, or move the old one away",
                FolderError::Exposed { .. } | FolderError::System { .. } => {
                    "check the disk and the permissions"
                }
            }
            .to_owned(),
        )
    }

    fn from_io(file: &Path, source: io::Error) -> FolderError {
        let file = file.display().to_string();
        match source.kind() {
            io::ErrorKind::NotFound => FolderError::Missing(file),
            io::ErrorKind::AlreadyExists => FolderError::InTheWay(file),
            _ => FolderError::System { file, source },
        }
    }
}

/// Largest file read whole, in bytes.
pub const LARGEST: u64 = 64 << 20;

/// Reads a file whole.
pub fn read(path: &Path) -> Result<Vec<u8>, FolderError> {
    let told = |e| FolderError::from_io(path, e);
    let facts = fs::metadata(path).map_err(told)?;
    usual(path, &facts)?;
    within(path, facts.len())?;
    // A file may grow meanwhile, and some of the system's own say that they are empty: what comes is counted too.
    let mut bytes = Vec::new();
    let file = fs::File::open(path).map_err(told)?;
    file.take(LARGEST.saturating_add(1)).read_to_end(&mut bytes).map_err(told)?;
    within(path, bytes.len() as u64)?;
    Ok(bytes)
}

/// Opening a pipe waits for whoever writes into it, and a device may never end; a folder is left to the system's word.
fn usual(path: &Path, facts: &fs::Metadata) -> Result<(), FolderError> {
    if facts.is_file() || facts.is_dir() {
        return Ok(());
    }
    Err(FolderError::NotAFile(path.display().to_string()))
}

fn within(path: &Path, size: u64) -> Result<(), FolderError> {
    if size <= LARGEST {
        return Ok(());
    }
    Err(FolderError::TooLarge { file: path.display().to_string(), size, most: LARGEST })
}

/// Reads a text file whole.
pub fn read_text(path: &Path) -> Result<String, FolderError> {
    String::from_utf8(read(path)?).map_err(|_| FolderError::NotText(path.display().to_string()))
}

/// Reads a secret file whole, if nobody but its owner can read or change it. Where the system has no such
/// permissions, they are not looked at.
pub fn read_private(path: &Path) -> Result<Vec<u8>, FolderError> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let facts = fs::metadata(path).map_err(|e| FolderError::from_io(path, e))?;
        let mode = facts.permissions().mode() & 0o777;
        if mode & 0o077 != 0 {
            return Err(FolderError::Exposed { file: path.display().to_string(), mode });
        }
    }
    read(path)
}

/// Writes a file so that it is there whole or as it was before: a temporary file beside it, synced, renamed.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), FolderError> {
    replace(path, bytes, false)
}

/// The same for the owner's eyes only.
pub fn write_private(path: &Path, bytes: &[u8]) -> Result<(), FolderError> {
    replace(path, bytes, true)
}

fn replace(path: &Path, bytes: &[u8], private: bool) -> Result<(), FolderError> {
    let told = |e| FolderError::from_io(path, e);
    let parent = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(parent).map_err(told)?;
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let temporary = parent.join(format!(".{name}.{}.part", std::process::id()));
    let written = (|| {
        let mut options = fs::OpenOptions::new();
        options.write(true).create(true).truncate(true);
        owner_only(&mut options, private);
        let mut file = options.open(&temporary)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&temporary, path)
    })();
    if written.is_err() {
        // Leave nothing half-written behind; the first error is the one worth telling.
        let _ = fs::remove_file(&temporary);
    }
    written.map_err(told)
}

/// Waits until nobody else holds this file, and holds it until the answer is dropped. Whoever reads a file, thinks and
/// writes it anew does so under one.
pub fn hold(path: &Path) -> Result<fs::File, FolderError> {
    let told = |e| FolderError::from_io(path, e);
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(told)?;
    }
    let file = fs::OpenOptions::new().write(true).create(true).truncate(false).open(path).map_err(told)?;
    file.lock().map_err(told)?;
    Ok(file)
}

/// Puts a file written beside it in a file's place, and makes that last.
pub fn put_in_place(from: &Path, to: &Path) -> Result<(), FolderError> {
    fs::rename(from, to).map_err(|e| FolderError::from_io(to, e))?;
    #[cfg(unix)]
    if let Some(parent) = to.parent() {
        // A power cut after this leaves the new file, not the old one.
        let synced = fs::File::open(parent).and_then(|folder| folder.sync_all());
        synced.map_err(|e| FolderError::from_io(parent, e))?;
    }
    Ok(())
}

/// A private file is made readable by its owner alone.
fn owner_only(options: &mut fs::OpenOptions, private: bool) {
    #[cfg(unix)]
    if private {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    #[cfg(not(unix))]
    let _ = (options, private);
}

/// Writes a file that must not exist yet; keys for the owner's eyes only.
pub fn write_new(path: &Path, bytes: &[u8], private: bool) -> Result<(), FolderError> {
    let told = |e| FolderError::from_io(path, e);
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(told)?;
    }
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    owner_only(&mut options, private);
    let mut file = options.open(path).map_err(told)?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(told)
}

/// Removes a file; none there is as good.
pub fn remove(path: &Path) -> Result<(), FolderError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(FolderError::from_io(path, error)),
        _ => Ok(()),
    }
}

/// Removes a folder with all it holds; none there is as good.
pub fn remove_folder(path: &Path) -> Result<(), FolderError> {
    match fs::remove_dir_all(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(FolderError::from_io(path, error)),
        _ => Ok(()),
    }
}

impl Folder {
    /// A folder; it need not exist yet.
    pub fn new(root: impl Into<PathBuf>) -> Folder {
        Folder { root: root.into() }
    }

    /// Where a file of the folder lies.
    pub fn path(&self, name: &str) -> PathBuf {
        self.root.join(name)
    }

    /// The folder itself.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Whether a file or folder of this name is there.
    pub fn has(&self, name: &str) -> bool {
        self.path(name).exists()
    }

    /// Names of the YAML files of a sub-folder, sorted; none when it is not there.
    pub fn yaml_files(&self, sub: &str) -> Result<Vec<String>, FolderError> {
        self.files(sub, ".yaml")
    }

    /// Names of the files of a sub-folder that end so, sorted; none when it is not there.
    pub fn files(&self, sub: &str, ending: &str) -> Result<Vec<String>, FolderError> {
        let path = self.path(sub);
        if !path.is_dir() {
            return Ok(Vec::new());
        }
        let mut names = Vec::new();
        for entry in fs::read_dir(&path).map_err(|e| FolderError::from_io(&path, e))? {
            let entry = entry.map_err(|e| FolderError::from_io(&path, e))?;
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.ends_with(ending) && !name.starts_with('.') {
                names.push(format!("{sub}/{name}"));
            }
        }
        names.sort();
        Ok(names)
    }

    /// Bytes of a file within the folder; `None` when it is not there, or lies outside by a link.
    ///
    /// # Errors
    /// When it is there and cannot be read.
    pub fn inside(&self, name: &str) -> Result<Option<Vec<u8>>, FolderError> {
        let path = self.path(name);
        let (Ok(root), Ok(real)) = (fs::canonicalize(&self.root), fs::canonicalize(&path)) else {
            return Ok(None);
        };
        if !real.starts_with(&root) || !real.is_file() {
            return Ok(None);
        }
        read(&real).map(Some)
    }

    /// A text file of the folder.
    pub fn text(&self, name: &str) -> Result<String, FolderError> {
        read_text(&self.path(name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_written_whole_or_not_at_all() {
        let folder = std::env::temp_dir().join(format!("brightproof-folder-{}", std::process::id()));
        let file = folder.join("a/b.txt");
        write_whole(&file, b"one").unwrap();
        write_whole(&file, b"two").unwrap();
        assert_eq!(read_text(&file).unwrap(), "two");
        assert!(matches!(write_new(&file, b"three", true), Err(FolderError::InTheWay(_))));
        // A folder stands where the file should go: nothing is left behind.
        assert!(write_whole(&folder.join("a"), b"x").is_err());
        let left: Vec<_> = fs::read_dir(&folder).unwrap().collect();
        assert_eq!(left.len(), 1);
        fs::remove_dir_all(&folder).unwrap();
    }
}
