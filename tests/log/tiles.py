# Reads a published log from c2sp.org/tlog-tiles and RFC 6962 alone: python3 tiles.py FOLDER. Prints size and root in
# hexadecimal when every tile and entry fits the checkpoint; signatures are checked elsewhere.
import base64, hashlib, os, struct, sys

folder = sys.argv[1]
sha = lambda data: hashlib.sha256(data).digest()


def root(hashes):
    if len(hashes) == 1:
        return hashes[0]
    split = 1
    while split * 2 < len(hashes):
        split *= 2
    return sha(b"\1" + root(hashes[:split]) + root(hashes[split:]))


def read(kind, index, width):
    path = "%03d" % (index % 1000)
    while index >= 1000:
        index //= 1000
        path = "x%03d/" % (index % 1000) + path
    if width < 256:
        path += ".p/%d" % width
    with open(os.path.join(folder, "tile", str(kind), path), "rb") as file:
        return file.read()


def row(count):
    return [(i, 256) for i in range(count // 256)] + ([(count // 256, count % 256)] if count % 256 else [])


with open(os.path.join(folder, "checkpoint"), encoding="utf-8") as file:
    origin, size, expected = file.read().split("\n")[:3]
size = int(size)
level, below = 0, None
while size >> (8 * level):
    hashes = []
    for index, width in row(size >> (8 * level)):
        tile = read(level, index, width)
        assert len(tile) == 32 * width, "tile %d/%d has %d bytes" % (level, index, len(tile))
        hashes += [tile[i : i + 32] for i in range(0, len(tile), 32)]
    if level == 0:
        leaves = hashes
        assert base64.b64encode(root(leaves)).decode() == expected, "the root is another"
        for index, width in row(size):
            bundle, at = read("entries", index, width), 0
            for i in range(width):
                (length,) = struct.unpack_from(">H", bundle, at)
                entry = bundle[at + 2 : at + 2 + length]
                at += 2 + length
                assert sha(b"\0" + entry) == leaves[index * 256 + i], "entry %d is another" % (index * 256 + i)
            assert at == len(bundle), "bytes after the last entry"
    else:
        whole = [root(below[i * 256 : i * 256 + 256]) for i in range(len(below) // 256)]
        assert whole == hashes, "level %d is not the hashes of the tiles below" % level
    level, below = level + 1, hashes
print(size, root(leaves).hex())
