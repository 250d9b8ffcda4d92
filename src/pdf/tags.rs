//! The document's structure: what is a heading, a table head, a list (ISO 32000-1, 14.7 and
//! 14.8; ISO 14289-1), and which marks on which page belong to it.

use lopdf::Dictionary;
use lopdf::Document;
use lopdf::Object;
use lopdf::ObjectId;
use lopdf::StringFormat;

use super::error::PdfError;

/// A structure element's place in [`Tags`].
pub(super) type NodeId = usize;

/// What an element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Document,
    Section,
    H1,
    H2,
    H3,
    Paragraph,
    /// A list of labelled things.
    List,
    /// A list with bullets.
    Bullets,
    Item,
    Label,
    Body,
    Table,
    Head,
    Rows,
    Row,
    /// A cell that heads its column.
    HeadCell,
    /// A cell that spans this many columns.
    Cell(usize),
    Figure,
    Form,
}

impl Role {
    fn name(self) -> &'static str {
        match self {
            Role::Document => "Document",
            Role::Section => "Sect",
            Role::H1 => "H1",
            Role::H2 => "H2",
            Role::H3 => "H3",
            Role::Paragraph => "P",
            Role::List | Role::Bullets => "L",
            Role::Item => "LI",
            Role::Label => "Lbl",
            Role::Body => "LBody",
            Role::Table => "Table",
            Role::Head => "THead",
            Role::Rows => "TBody",
            Role::Row => "TR",
            Role::HeadCell => "TH",
            Role::Cell(_) => "TD",
            Role::Figure => "Figure",
            Role::Form => "Form",
        }
    }
}

#[derive(Debug)]
enum Kid {
    Node(NodeId),
    /// Marked content: page and mark.
    Mark(usize, usize),
    /// An annotation object on a page.
    Annotation(ObjectId, usize),
}

#[derive(Debug)]
struct Node {
    role: Role,
    parent: Option<NodeId>,
    kids: Vec<Kid>,
    alt: Option<String>,
    frame: Option<[f64; 4]>,
}

/// The structure tree while it grows.
#[derive(Debug)]
pub(super) struct Tags {
    nodes: Vec<Node>,
    /// Of each page, the element of each mark.
    marks: Vec<Vec<NodeId>>,
    /// Annotations and their elements.
    annotations: Vec<NodeId>,
}

impl Tags {
    /// A tree with only its root, the document.
    pub(super) fn new() -> Tags {
        let root = Node { role: Role::Document, parent: None, kids: Vec::new(), alt: None, frame: None };
        Tags { nodes: vec![root], marks: Vec::new(), annotations: Vec::new() }
    }

    /// The document element.
    pub(super) const ROOT: NodeId = 0;

    /// Adds an element as the last child of another.
    pub(super) fn add(&mut self, parent: NodeId, role: Role) -> NodeId {
        let id = self.nodes.len();
        self.nodes.push(Node { role, parent: Some(parent), kids: Vec::new(), alt: None, frame: None });
        if let Some(node) = self.nodes.get_mut(parent) {
            node.kids.push(Kid::Node(id));
        }
        id
    }

    /// Describes a figure in words, with its box on the page (left, bottom, right, top).
    pub(super) fn describe(&mut self, node: NodeId, alt: &str, frame: [f64; 4]) {
        if let Some(node) = self.nodes.get_mut(node) {
            node.alt = Some(alt.to_owned());
            node.frame = Some(frame);
        }
    }

    /// The tag a content stream opens an element's content with.
    pub(super) fn name(&self, node: NodeId) -> &'static str {
        self.nodes.get(node).map_or("P", |node| node.role.name())
    }

    /// Records that the next mark on a page belongs to an element; the result is its number.
    pub(super) fn mark(&mut self, node: NodeId, page: usize) -> usize {
        while self.marks.len() <= page {
            self.marks.push(Vec::new());
        }
        let Some(marks) = self.marks.get_mut(page) else { return 0 };
        let number = marks.len();
        marks.push(node);
        if let Some(node) = self.nodes.get_mut(node) {
            node.kids.push(Kid::Mark(page, number));
        }
        number
    }

    /// Records an annotation's element; the result is the annotation's key in the parent tree.
    pub(super) fn annotate(
        &mut self,
        node: NodeId,
        annotation: ObjectId,
        page: usize,
        pages: usize,
    ) -> usize {
        if let Some(node) = self.nodes.get_mut(node) {
            node.kids.push(Kid::Annotation(annotation, page));
        }
        self.annotations.push(node);
        pages.saturating_add(self.annotations.len()).saturating_sub(1)
    }

    /// Whether any content was marked for this element or one below it.
    fn has_content(&self) -> Vec<bool> {
        let mut full = vec![false; self.nodes.len()];
        // Children come after their parents, so one pass from the end suffices.
        for (id, node) in self.nodes.iter().enumerate().rev() {
            let has = node.kids.iter().any(|kid| match kid {
                Kid::Node(child) => full.get(*child) == Some(&true),
                Kid::Mark(..) | Kid::Annotation(..) => true,
            });
            // A table cell stays even when empty: rows must keep their columns.
            if let Some(slot) = full.get_mut(id) {
                *slot = has || matches!(node.role, Role::Cell(_) | Role::HeadCell);
            }
        }
        full
    }

    /// Writes the tree into the document; the result is the root's id.
    ///
    /// # Errors
    /// [`PdfError::Engine`] when a mark names a page that does not exist.
    pub(super) fn write(&self, doc: &mut Document, pages: &[ObjectId]) -> Result<ObjectId, PdfError> {
        let full = self.has_content();
        let ids: Vec<ObjectId> = self.nodes.iter().map(|_| (0, 0)).collect();
        let mut ids = ids;
        for (slot, keep) in ids.iter_mut().zip(&full) {
            if *keep {
                *slot = doc.new_object_id();
            }
        }
        let root = doc.new_object_id();
        let id_of = |node: NodeId| ids.get(node).copied().unwrap_or((0, 0));
        let page_of = |page: usize| {
            pages.get(page).copied().ok_or_else(|| PdfError::Engine { detail: format!("no page {page}") })
        };
        for (id, node) in self.nodes.iter().enumerate() {
            if full.get(id) != Some(&true) {
                continue;
            }
            let mut dict = Dictionary::new();
            dict.set("S", Object::Name(node.role.name().as_bytes().to_vec()));
            dict.set("P", Object::Reference(node.parent.map_or(root, id_of)));
            let home = node.kids.iter().find_map(|kid| match kid {
                Kid::Mark(page, _) | Kid::Annotation(_, page) => Some(*page),
                Kid::Node(_) => None,
            });
            if let Some(page) = home {
                dict.set("Pg", Object::Reference(page_of(page)?));
            }
            let mut kids = Vec::with_capacity(node.kids.len());
            for kid in &node.kids {
                match kid {
                    Kid::Node(child) if full.get(*child) == Some(&true) => {
                        kids.push(Object::Reference(id_of(*child)));
                    }
                    Kid::Node(_) => {}
                    Kid::Mark(page, number) if Some(*page) == home => {
                        kids.push(super::subset::length(*number));
                    }
                    Kid::Mark(page, number) => kids.push(Object::Dictionary(Dictionary::from_iter([
                        ("Type", Object::Name(b"MCR".to_vec())),
                        ("Pg", Object::Reference(page_of(*page)?)),
                        ("MCID", super::subset::length(*number)),
                    ]))),
                    Kid::Annotation(object, page) => {
                        kids.push(Object::Dictionary(Dictionary::from_iter([
                            ("Type", Object::Name(b"OBJR".to_vec())),
                            ("Pg", Object::Reference(page_of(*page)?)),
                            ("Obj", Object::Reference(*object)),
                        ])));
                    }
                }
            }
            if kids.len() == 1 {
                if let Some(only) = kids.pop() {
                    dict.set("K", only);
                }
            } else if !kids.is_empty() {
                dict.set("K", Object::Array(kids));
            }
            if let Some(attributes) = attributes(node) {
                dict.set("A", Object::Dictionary(attributes));
            }
            if let Some(alt) = &node.alt {
                dict.set("Alt", words(alt));
            }
            doc.objects.insert(id_of(id), Object::Dictionary(dict));
        }

        let mut numbers = Vec::new();
        for (page, marks) in self.marks.iter().enumerate() {
            numbers.push(super::subset::length(page));
            numbers.push(Object::Array(marks.iter().map(|&node| Object::Reference(id_of(node))).collect()));
        }
        for (i, node) in self.annotations.iter().enumerate() {
            numbers.push(super::subset::length(pages.len().saturating_add(i)));
            numbers.push(Object::Reference(id_of(*node)));
        }
        let next = pages.len().saturating_add(self.annotations.len());
        let parents = Dictionary::from_iter([("Nums", Object::Array(numbers))]);
        let parents = doc.add_object(parents);
        let tree = Dictionary::from_iter([
            ("Type", Object::Name(b"StructTreeRoot".to_vec())),
            ("K", Object::Reference(id_of(Tags::ROOT))),
            ("ParentTree", Object::Reference(parents)),
            ("ParentTreeNextKey", super::subset::length(next)),
        ]);
        doc.objects.insert(root, Object::Dictionary(tree));
        Ok(root)
    }
}

fn attributes(node: &Node) -> Option<Dictionary> {
    let owner = |name: &str| ("O", Object::Name(name.as_bytes().to_vec()));
    match node.role {
        Role::HeadCell => {
            Some(Dictionary::from_iter([owner("Table"), ("Scope", Object::Name(b"Column".to_vec()))]))
        }
        Role::Cell(span) if span > 1 => {
            Some(Dictionary::from_iter([owner("Table"), ("ColSpan", super::subset::length(span))]))
        }
        Role::Bullets => {
            Some(Dictionary::from_iter([owner("List"), ("ListNumbering", Object::Name(b"Disc".to_vec()))]))
        }
        Role::Figure => node.frame.map(|frame| {
            Dictionary::from_iter([
                owner("Layout"),
                ("BBox", Object::Array(frame.iter().map(|&edge| Object::Real(edge as f32)).collect())),
            ])
        }),
        _ => None,
    }
}

/// A text string of a PDF dictionary: UTF-16 with its mark, in hexadecimal, so that no text of
/// the data can look like a piece of the file's own structure.
pub(super) fn words(text: &str) -> Object {
    let mut bytes = vec![0xfe, 0xff];
    bytes.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
    Object::String(bytes, StringFormat::Hexadecimal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_elements_are_left_out_but_cells_stay() {
        let mut tags = Tags::new();
        let empty = tags.add(Tags::ROOT, Role::Paragraph);
        let row = tags.add(Tags::ROOT, Role::Row);
        let cell = tags.add(row, Role::Cell(1));
        let text = tags.add(Tags::ROOT, Role::Paragraph);
        assert_eq!(tags.mark(text, 0), 0);
        assert_eq!(tags.mark(text, 1), 0);
        let full = tags.has_content();
        assert_eq!((full[empty], full[row], full[cell], full[text]), (false, true, true, true));
        let mut doc = Document::with_version("1.7");
        let pages = [doc.new_object_id(), doc.new_object_id()];
        assert!(tags.write(&mut doc, &pages).is_ok());
        assert!(tags.write(&mut doc, &pages[..1]).is_err());
    }
}
