"""A reader of programs, as strict as NISTIR 6556 (The NIST RS274NGC Interpreter, version 3): where does it go?"""

import re
from dataclasses import dataclass, field

NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
WORD = re.compile(rf"([A-Z])({NUMBER})")
G_GROUPS = {  # words of one modal group exclude each other on a line
    "motion": {0, 1},
    "plane": {17},
    "distance": {90, 91},
    "feed": {94},
    "units": {20, 21},
    "none": {4, 53},
}
M_STOPPING = {0, 2}


@dataclass
class Run:
    """What a program did."""

    places_mm: dict[str, list[float]] = field(default_factory=dict)
    pauses: int = 0
    messages: list[str] = field(default_factory=list)
    ended: bool = False


def run(text: str) -> Run:
    """Read a program; anything outside the words above, or a move without feed or units, fails."""
    done, scale, feed, distance = Run(), None, None, None
    numbers: list[int] = []
    for line in text.splitlines():
        assert len(line) <= 256, "a line has at most 256 characters"
        assert line.isascii()
        assert not done.ended, "nothing follows M2"
        bare = re.sub(r"\(([^()]*)\)", lambda note: done.messages.append(note[1]) or "", line)
        assert not set("()") & set(bare), "comments do not nest"
        packed = bare.replace(" ", "")
        assert re.fullmatch(rf"(N\d{{1,5}})?([A-Z]{NUMBER})*", packed), f"not a line: {line}"
        words = WORD.findall(packed)
        if words and words[0][0] == "N":
            numbers.append(int(words.pop(0)[1]))
        gs = {float(size) for letter, size in words if letter == "G"}
        ms = [float(size) for letter, size in words if letter == "M"]
        rest = {letter: float(size) for letter, size in words if letter not in "GM"}
        assert len(rest) == sum(letter not in "GM" for letter, _ in words), "one of each letter a line"
        assert set(rest) <= set("XYZFP")
        for group in G_GROUPS.values():
            assert len(gs & group) <= 1
        assert gs <= set().union(*G_GROUPS.values())
        assert len(ms) <= 1, "M0 and M2 are of one group"
        assert set(ms) <= M_STOPPING
        scale = 25.4 if 20 in gs else 1.0 if 21 in gs else scale
        distance = "absolute" if 90 in gs else "incremental" if 91 in gs else distance
        feed = rest.get("F", feed)
        axes = {letter: size for letter, size in rest.items() if letter in "XYZ"}
        if axes:
            assert 53 in gs, "every move here is in machine coordinates"
            assert gs & {0, 1}, "G53 needs G0 or G1 on its line"
            assert distance == "absolute"
            assert scale is not None, "units first"
            assert feed is not None, "a feed first"
            assert feed > 0
            for letter, size in axes.items():
                done.places_mm.setdefault(letter, []).append(size * scale)
        if 4 in gs:
            assert rest.get("P", -1) >= 0
        done.pauses += 0 in ms
        done.ended = 2 in ms
    assert done.ended, "a program ends with M2"
    assert numbers == sorted(set(numbers))
    return done
