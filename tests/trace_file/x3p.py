"""Writes X3P files of invented heights and works out what they say: name, row, step in µm, heights in µm, file."""
import hashlib
import io
import sys
import xml.etree.ElementTree as ET
import zipfile

import numpy as np

NUMBERS = {"D": "<f8", "F": "<f4", "L": "<i4", "I": "<i2"}
random = np.random.default_rng(7)


def element(parent, name, text=None):
    child = ET.SubElement(parent, name)
    child.text = text
    return child


def write(kind, raw, increment, offset, x=None, inline=False, valid=None, stored=False):
    rows, columns = raw.shape
    root = ET.Element("{http://www.opengps.eu/2008/ISO5436_2}ISO5436_2")
    first = element(root, "Record1")
    element(first, "Revision", "ISO5436 - 2000")
    element(first, "FeatureType", "PRF" if rows == 1 else "SUR")
    axes = element(first, "Axes")
    absolute_x = ("A", "D", 1.0, 0.0)
    for name, (axis, code, step, start) in {
        "CX": ("I", "D", 2.5e-7, 0.0) if x is None else absolute_x,
        "CY": ("I", "D", 1e-6, 0.0),
        "CZ": ("A", kind, increment, offset),
    }.items():
        one = element(axes, name)
        element(one, "AxisType", axis)
        element(one, "DataType", code)
        element(one, "Increment", repr(step))
        element(one, "Offset", repr(start))
    third = element(root, "Record3")
    size = element(third, "MatrixDimension")
    for name, count in (("SizeX", columns), ("SizeY", rows), ("SizeZ", 1)):
        element(size, name, str(count))
    members = {}
    flat = raw.astype(NUMBERS[kind]).ravel()
    if inline:
        data = element(third, "DataList")
        for i, value in enumerate(flat):
            words = [] if x is None else [repr(float(x[i]))]
            element(data, "Datum", ";".join(words + [repr(value.item())]))
    else:
        if x is None:
            points = flat
        else:
            points = np.empty(flat.size, dtype=[("x", "<f8"), ("z", NUMBERS[kind])])
            points["x"], points["z"] = x, flat
        members["bindata/data.bin"] = points.tobytes()
        link = element(third, "DataLink")
        element(link, "PointDataLink", "bindata/data.bin")
        element(link, "MD5ChecksumPointData", hashlib.md5(points.tobytes()).hexdigest())
        if valid is not None:
            mask = np.packbits(valid, bitorder="little").tobytes()
            members["bindata/valid.bin"] = mask
            element(link, "ValidPointsLink", "bindata/valid.bin")
            element(link, "MD5ChecksumValidPoints", hashlib.md5(mask).hexdigest().upper())
    element(element(root, "Record4"), "ChecksumFile", "md5checksum.hex")
    main = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    members = {"main.xml": main, **members}
    members["md5checksum.hex"] = (hashlib.md5(main).hexdigest() + " *main.xml").encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def tell(name, file, heights, row="-", step=0.25):
    heights = np.asarray(heights, dtype="<f8").tobytes().hex()
    sys.stdout.write(f"{name}\t{row}\t{step!r}\t{heights}\t{file.hex()}\n")


def micrometres(raw, kind, increment, offset):
    return (raw.astype(NUMBERS[kind]).astype("f8") * increment + offset) * 1e6


cases = {
    "D": (random.normal(0, 3e-7, (1, 1000)), 1.0, 0.0),
    "F": (random.normal(0, 3e-7, (1, 1000)), 1.0, 1.5e-6),
    "L": (random.integers(-(2**31), 2**31, (1, 1000)), 1.7e-15, -2e-6),
    "I": (random.integers(-(2**15), 2**15, (1, 1000)), 3.1e-11, 0.0),
}
for kind, (raw, increment, offset) in cases.items():
    tell(kind, write(kind, raw, increment, offset), micrometres(raw, kind, increment, offset))
raw, increment, offset = cases["D"]
tell("stored", write("D", raw, 1.0, 0.0, stored=True), micrometres(raw, "D", 1.0, 0.0))
tell("inline", write("D", raw, 1.0, 1e-7, inline=True), micrometres(raw, "D", 1.0, 1e-7))
raw, increment, offset = cases["I"]
file = write("I", raw, increment, offset, valid=np.ones(1000, dtype=bool))
tell("valid", file, micrometres(raw, "I", increment, offset))
raw = random.integers(-1000, 1000, (4, 11))
valid = np.zeros((4, 11), dtype=bool)
valid[1:3] = True
file = write("L", raw, 1e-9, 0.0, valid=valid)
for row in (2, 3):
    tell(f"surface row {row}", file, micrometres(raw[row - 1], "L", 1e-9, 0.0), row=row)
x = np.arange(64) * 2.0**-21
raw = random.normal(0, 3e-7, (1, 64))
step = float(x[-1] * 1e6 / 63)
tell("positions", write("F", raw, 1.0, 0.0, x=x), micrometres(raw, "F", 1.0, 0.0), step=step)
tell("inline x", write("D", raw, 1.0, 0.0, x=x, inline=True), micrometres(raw, "D", 1.0, 0.0), step=step)
