"""Each file is read by Python's XML reader; only names of SVG 1.1 may be in it."""
import json
import sys
import xml.etree.ElementTree as tree

SVG = "{http://www.w3.org/2000/svg}"
NAMES = {SVG + n for n in ("svg", "title", "desc", "path", "polyline", "polygon", "circle", "text")}
files = json.load(sys.stdin)
for file in files:
    root = tree.fromstring(file.encode())
    assert root.tag == SVG + "svg" and root.get("viewBox"), root.tag
    assert [child.tag for child in root][:2] == [SVG + "title", SVG + "desc"]
    assert root[1].text.strip()
    strange = {e.tag for e in root.iter()} - NAMES
    assert not strange, strange
print(len(files), "files")
