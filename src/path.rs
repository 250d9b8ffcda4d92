//! Where in a document something stands: `runs[0].steps[1].temperature`.
//!
//! A finding carries a path; the edge that read the file turns it into a line and a column, a page
//! into a form field.

use std::fmt;
use std::str::FromStr;

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

/// One step of a path.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Segment {
    /// A key of a mapping.
    Key(String),
    /// A place in a sequence, from 0.
    Index(usize),
}

/// A route of keys and indexes from the root of a document. The empty path is the document itself.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Path(Vec<Segment>);

impl Path {
    /// The document itself.
    pub fn root() -> Self {
        Path::default()
    }

    /// This path, then a key.
    #[must_use]
    pub fn key(&self, key: &str) -> Self {
        let mut segments = self.0.clone();
        segments.push(Segment::Key(key.to_owned()));
        Path(segments)
    }

    /// This path, then an index from 0.
    #[must_use]
    pub fn index(&self, index: usize) -> Self {
        let mut segments = self.0.clone();
        segments.push(Segment::Index(index));
        Path(segments)
    }

    /// The path of the block around this one; `None` of the document itself.
    pub fn parent(&self) -> Option<Self> {
        self.0.split_last().map(|(_, above)| Path(above.to_vec()))
    }

    /// The segments from the root down.
    pub fn segments(&self) -> &[Segment] {
        &self.0
    }
}

impl fmt::Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (position, segment) in self.0.iter().enumerate() {
            match segment {
                Segment::Index(index) => write!(f, "[{index}]")?,
                Segment::Key(key) if position == 0 => f.write_str(key)?,
                Segment::Key(key) => write!(f, ".{key}")?,
            }
        }
        Ok(())
    }
}

impl FromStr for Path {
    type Err = String;

    /// Reads what `Display` writes. Keys hold no `.` and no `[`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut segments = Vec::new();
        for part in text.split('.').filter(|part| !part.is_empty()) {
            let (key, indexes) = part.split_once('[').map_or((part, None), |(k, i)| (k, Some(i)));
            if !key.is_empty() {
                segments.push(Segment::Key(key.to_owned()));
            }
            for index in indexes.into_iter().flat_map(|i| i.split('[')) {
                let digits = index.strip_suffix(']').ok_or_else(|| format!("`{text}` is not a path"))?;
                segments.push(Segment::Index(digits.parse().map_err(|_| format!("`{text}` is not a path"))?));
            }
        }
        Ok(Path(segments))
    }
}

impl Serialize for Path {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Path {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printed_and_read_back() {
        let path = Path::root().key("runs").index(0).key("steps").index(12).key("post-dip").key("in");
        assert_eq!(path.to_string(), "runs[0].steps[12].post-dip.in");
        assert_eq!(path.to_string().parse::<Path>().unwrap(), path);
        assert_eq!("".parse::<Path>().unwrap(), Path::root());
        assert!("runs[x]".parse::<Path>().is_err());
    }
}
