"""What nobody types: odd texts, huge numbers, and what is well formed spoiled; the same for forms and files."""

import io
import zipfile

from hypothesis import strategies as st

ODD = (
    *("", " ", "-", ".", ",", "/", "0", "-0", "1e999", "-1e999", "nan", "inf", "-inf", "None", "null", "true"),
    *("9" * 400, "9" * 5000, "1/" + "0" * 20, "1/0", "0x10", "1_000", "1e-400", str(2**31), str(2**63)),
    *("0.05 mm over  mm", "3 V", "5 kg", "1 mm 2 mm", "1,000", "1.000,5", "30 %", "-40 degC", "4 in", "7 steps"),
    *("\x00", "a\x00b", "\x1b[31m", "\x7f", "\ufeff", "\u202e", "\u200b", "\ud800", "\U0010ffff", "e\u0301"),
    *("2024-02-30", "2023-13-01 25:61", "0000-00-00", "99999-01-01", "yesterday", "A, B", "L", "R", "Y", "X"),
    *("<script>", "{{7*7}}", "'; drop table reading; --", "../../etc/passwd", "%s%n", "=1+1", "a" * 70_000),
    *("\r\n\r\n", "\u0663", "\u00b2", "\u00bd", "outside"),
)
texts = st.one_of(st.sampled_from(ODD), st.text(max_size=20), st.integers().map(str), st.floats().map(str))
numbers = st.sampled_from(("0", "1", "1", "2", "3", "-1", "999", str(2**63), "9" * 400, "x", "1.5", "\u0663"))


def mutated(draw: st.DrawFn, whole: bytes) -> bytes:
    """Return bytes with some of them changed, left out, doubled, or exchanged for odd texts."""
    raw = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        at, size = draw(st.integers(0, len(raw))), draw(st.integers(0, 12))
        kind = draw(st.sampled_from(("flip", "cut", "double", "odd", "end", "line")))
        if kind == "flip" and at < len(raw):
            raw[at] ^= 1 << draw(st.integers(0, 7))
        elif kind == "cut":
            del raw[at : at + size]
        elif kind == "double":
            raw[at:at] = raw[at : at + size]
        elif kind == "odd":
            raw[at : at + size] = draw(texts).encode("utf-8", "surrogatepass")
        elif kind == "end":
            del raw[at:]
        else:
            lines = bytes(raw).split(b"\n")
            one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
            lines[one], lines[other] = lines[other], lines[one]
            raw = bytearray(b"\n".join(lines))
    return bytes(raw)


def mutated_within(draw: st.DrawFn, whole: bytes) -> bytes:
    """Return a ZIP that is whole to its reader, with one of the files in it spoiled."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        spoiled = draw(st.sampled_from(names))
        for name in names:
            raw = old.read(name)
            new.writestr(name, mutated(draw, raw) if name == spoiled else raw)
    return out.getvalue()
