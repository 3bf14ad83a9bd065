"""Adds a rotation property (irot, ISO/IEC 23008-12) to a HEIC file with one picture.

heif-enc 1.15 copies Exif and writes no rotation; a telephone writes both.
Usage: rotate_heic.py IN OUT QUARTER_TURNS_ANTICLOCKWISE
"""
import struct, sys


def boxes(b, start, end):
    while start < end:
        size, kind = struct.unpack(">I4s", b[start:start + 8])
        yield kind, start, size
        start += size


b = bytearray(open(sys.argv[1], "rb").read())
at = {}
for kind, start, size in boxes(b, 0, len(b)):
    if kind == b"meta":
        at["meta"] = start
        for kind, s, n in boxes(b, start + 12, start + size):
            at[kind.decode()] = s
            if kind == b"iprp":
                for kind, t, m in boxes(b, s + 8, s + n):
                    at[kind.decode()] = t

count = sum(1 for _ in boxes(b, at["ipco"] + 8, at["ipco"] + struct.unpack(">I", b[at["ipco"]:at["ipco"] + 4])[0]))
grow = lambda name, n: b.__setitem__(slice(at[name], at[name] + 4), struct.pack(">I", struct.unpack(">I", b[at[name]:at[name] + 4])[0] + n))

# iloc: version 0 or 1, 4-byte offsets and lengths, as heif-enc writes it.
i = at["iloc"]
version, sizes, base = b[i + 8], b[i + 12], b[i + 13] >> 4
items, p = struct.unpack(">H", b[i + 14:i + 16])[0], i + 16
assert version in (0, 1) and sizes == 0x44
for _ in range(items):
    p += 2 + (2 if version == 1 else 0) + 2
    if base:
        p += base
    extents = struct.unpack(">H", b[p:p + 2])[0]
    p += 2
    for _ in range(extents):
        b[p:p + 4] = struct.pack(">I", struct.unpack(">I", b[p:p + 4])[0] + 10)
        p += 8

# ipma: the first item is the picture; one more property, essential.
a = at["ipma"]
n_at = a + 12 + 4 + 2
b[n_at] += 1
end = n_at + b[n_at]
ipco_end = at["ipco"] + struct.unpack(">I", b[at["ipco"]:at["ipco"] + 4])[0]
for name, n in (("meta", 10), ("iprp", 10), ("ipco", 9), ("ipma", 1)):
    grow(name, n)
b[end:end] = bytes([0x80 | (count + 1)])
b[ipco_end:ipco_end] = struct.pack(">I4sB", 9, b"irot", int(sys.argv[3]))
open(sys.argv[2], "wb").write(b)
