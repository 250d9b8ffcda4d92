//! Adding lines to a file that several programs may add to at once.

use std::fs;
use std::io;
use std::io::Read;
use std::io::Seek;
use std::io::SeekFrom;
use std::io::Write;
use std::path::Path;

use super::FolderError;
use super::usual;
use super::within;

/// Adds the line that `line` makes of the whole text so far, if it makes one; makes the file when it is not there.
/// Under a lock, so that of two programs the second sees the first one's line. A last line without its end was cut
/// short by a failure and is taken out first. Answers the text as it stands then.
pub fn append_line(path: &Path, line: impl FnOnce(&str) -> Option<String>) -> Result<String, FolderError> {
    let told = |e| FolderError::from_io(path, e);
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent).map_err(told)?;
    }
    if let Ok(facts) = fs::metadata(path) {
        usual(path, &facts)?;
    }
    let mut options = fs::OpenOptions::new();
    let mut file = options.create(true).read(true).append(true).open(path).map_err(told)?;
    // Let go when the file is closed.
    file.lock().map_err(told)?;
    within(path, file.metadata().map_err(told)?.len())?;
    let mut text = String::new();
    file.read_to_string(&mut text).map_err(|e| match e.kind() {
        io::ErrorKind::InvalidData => FolderError::NotText(path.display().to_string()),
        _ => told(e),
    })?;
    let whole = text.rfind('\n').map_or(0, |end| end.saturating_add(1));
    if whole < text.len() {
        file.set_len(whole as u64).map_err(told)?;
        text.truncate(whole);
    }
    if let Some(line) = line(&text) {
        file.seek(SeekFrom::End(0)).map_err(told)?;
        let added = format!("{}\n", line.replace('\n', " "));
        file.write_all(added.as_bytes()).and_then(|()| file.sync_all()).map_err(told)?;
        text.push_str(&added);
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_many_writers_stay_whole() {
        let folder = std::env::temp_dir().join(format!("brightproof-append-{}", std::process::id()));
        let file = folder.join("lines.txt");
        std::thread::scope(|scope| {
            for writer in 0..4 {
                let file = &file;
                scope.spawn(move || {
                    for turn in 0..25 {
                        // Each line counts those before it: a lost or torn one would show.
                        append_line(file, |text| Some(format!("{} {writer}-{turn}", text.lines().count())))
                            .unwrap();
                    }
                });
            }
        });
        let text = append_line(&file, |_| None).unwrap();
        assert_eq!(text.lines().count(), 100);
        assert!(text.lines().enumerate().all(|(i, line)| line.starts_with(&format!("{i} "))), "{text}");
        // A line cut short by a power failure goes; the whole ones stay.
        fs::write(&file, "one\ntw").unwrap();
        assert_eq!(append_line(&file, |_| Some("three".to_owned())).unwrap(), "one\nthree\n");
        assert_eq!(fs::read_to_string(&file).unwrap(), "one\nthree\n");
        fs::remove_dir_all(&folder).unwrap();
    }
}
