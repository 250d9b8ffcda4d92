"""Fills corpus/ from what the repository and a demonstration shop hold.

python3 fuzz/seed.py DEMO    DEMO: the folder that `brightproof demo DEMO` made
"""

import json
import subprocess
import sys
import zipfile
import zlib
from pathlib import Path

root = Path(__file__).resolve().parent.parent
demo = Path(sys.argv[1])
corpus = root / "fuzz" / "corpus"


def put(target, name, content):
    folder = corpus / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name.replace("/", "_")).write_bytes(content if isinstance(content, bytes) else content.encode())


shop = root / "samples" / "larkspur"
for n, file in enumerate(sorted(demo.glob("certificates/*.pdf"), key=lambda f: f.stat().st_size)):
    # The smallest few: a search over large files tries little.
    if n < 6:
        put("pdf", file.name, file.read_bytes())
# The first byte says which paper it is (targets/yaml.rs).
papers = [
    ("d", "lots/*.yaml"), ("g", "parts/*.yaml"), ("h", "orders/*.yaml"), ("i", "baths.yaml"),
    ("j", "instruments.yaml"), ("j", "solutions.yaml"), ("k", "loads/*.yaml"), ("l", "adopted/*.yaml"),
    ("l", "adopt/*.yaml"), ("l", "shipments/*.yaml"), ("m", "shop.yaml"), ("m", "people.yaml"),
]
for letter, glob in papers:
    for folder in (shop, demo):
        for file in sorted(folder.glob(glob)):
            put("yaml", glob.split("/")[0] + file.name, letter + file.read_text())
for file in sorted(shop.glob("logs/*.csv")):
    head = b"".join(file.read_bytes().splitlines(keepends=True)[:40])
    put("log", file.name, (b"\x01" if file.name.startswith("EP") else b"\x00") + head)
for which in range(2, 26):
    for time in ("2026-11-24 07:00:00", "24.11.2026 07:00:00", "11/24/2026 07:00:00 AM", "2026-11-24T07:00:00Z"):
        for mark in ",;\t":
            lines = [mark.join(("Time", "Temp (°C)", "Amps")), mark.join((time, "66.5", "---"))]
            put("log", f"{which}-{time}-{ord(mark)}", bytes([which]) + "\n".join(lines).encode())
for file in [*shop.glob("traces/*"), *(root / "tests/trace_file").glob("*.x3p")]:
    if file.stat().st_size < 60_000:
        put("trace", file.name, file.read_bytes())
    elif file.suffix == ".csv":
        put("trace", file.name, file.read_bytes()[:4000])
put("trace", "named.csv", "X,Z\n" + "".join(f"{i / 1000},{i % 7}\n" for i in range(40)))
for file in demo.glob("certificates/*.tlog-proof"):
    put("proof", file.name, file.read_bytes())
    put("proof", file.name + ".head", file.read_text().split("\n\n", 1)[1])
put("proof", "edit", b"\xff\x00\x10\x03A")
put("proof", "head", (demo / "register-head.txt").read_bytes())
for file in (root / "rules").rglob("*.yaml"):
    put("pack", file.name, file.read_bytes())
(corpus / "data").mkdir(parents=True, exist_ok=True)
for file in demo.glob("certificates/*.pdf"):
    # poppler's pdfdetach: the data as another program takes them out
    place = corpus / "data" / (file.stem + ".json")
    subprocess.run(["pdfdetach", "-save", "1", "-o", place, file], check=True)
for line in (root / "tests/callouts/corpus.yaml").read_text().splitlines():
    if line.startswith('- text: "'):
        try:
            put("call_out", f"{zlib.crc32(line.encode())}", json.loads(line[len("- text: "):]))
        except ValueError:
            pass
put("sheet", "a.csv", "Lot;PO,Line\n\"L-26\",\"a \"\"b\"\"\",3\n")
for file in [*root.glob("tests/**/*.xlsx"), *demo.glob("**/*.xlsx")]:
    put("sheet", file.name, file.read_bytes())
cells = '<row r="1"><c r="A1" t="inlineStr"><is><t>Lot</t></is></c><c r="B1"><v>45000.5</v></c></row>'
main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
packed = "http://schemas.openxmlformats.org/package/2006/relationships"
book = corpus / "sheet" / "a.xlsx"
with zipfile.ZipFile(book, "w") as file:
    file.writestr("[Content_Types].xml", "<Types/>")
    file.writestr("_rels/.rels", f'<Relationships xmlns="{packed}"><Relationship Id="r1" Type="{rel}/officeDocument" Target="xl/workbook.xml"/></Relationships>')
    file.writestr("xl/workbook.xml", f'<workbook xmlns="{main}" xmlns:r="{rel}"><sheets><sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>')
    file.writestr("xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{packed}"><Relationship Id="r1" Type="{rel}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>')
    file.writestr("xl/worksheets/sheet1.xml", f'<worksheet xmlns="{main}"><sheetData>{cells}</sheetData></worksheet>')
for file in (root / "fuzz/seeds/token").iterdir():
    put("token", file.name, file.read_bytes())
for folder in sorted(corpus.iterdir()):
    print(folder.name, len(list(folder.iterdir())))
# Keys as openssl packs them, and as the shop keeps them.
key = corpus / "key"
key.mkdir(parents=True, exist_ok=True)
if not (key / "root.p12").exists():
    pem, certificate = str(demo / "keys/root-key.pem"), str(demo / "keys/root.pem")
    pack = ["openssl", "pkcs12", "-export", "-inkey", pem, "-in", certificate, "-passout", "pass:wet rinse", "-iter", "1"]
    for name, more in (("root.p12", ["-nomaciter"]), ("bare.p12", ["-nomac"]), ("old.p12", ["-legacy"])):
        subprocess.run([*pack, *more, "-out", str(key / name)], check=True)
for file in (demo / "keys").glob("*.pem"):
    put("key", file.name, file.read_bytes())
