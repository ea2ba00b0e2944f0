"""Output: what a sensor does to its signal wire, one row for each type; and how its contact rests."""

from enum import StrEnum

from holdzero.form.key import folded

Ways = tuple[str, ...]


class Output(StrEnum):
    """Type of a sensor's output, under the name that files give it.

    `terminals`: 3 where it is fed by wires of its own; at 2 the rail it is fed from decides which way it pulls.
    `sources`, `sinks`: of itself it lifts the signal to plus, pulls it to 0 V. `electronic`: it leaks while it is
    off, drops some volts while it is on, and breaks otherwise than a contact. `noun`: what people call it.
    `ways`: how else it may be written.
    """

    terminals: int
    sources: bool
    sinks: bool
    electronic: bool
    noun: str
    ways: Ways

    # fmt: off
    #              in files     terminals sources sinks electronic noun     also written
    DRY_CONTACT = "dry contact", 2, False, False, False, "contact", (
        "dry", "contact", "switch", "micro switch", "microswitch", "reed", "mechanical")
    NPN         = "NPN",         3, False, True,  True,  "sensor", ("NPN open collector", "open collector")
    PNP         = "PNP",         3, True,  False, True,  "sensor", ("PNP open collector",)
    PUSH_PULL   = "push-pull",   3, True,  True,  True,  "sensor", ("pushpull",)
    TWO_WIRE    = "2-wire",      2, False, False, True,  "sensor", ("two wire", "2 wire DC", "2wire")
    # fmt: on

    def __new__(
        cls,
        name: str,
        terminals: int,
        sources: bool,
        sinks: bool,
        electronic: bool,
        noun: str,
        ways: Ways,
    ) -> "Output":
        """Make a row of the table."""
        row = str.__new__(cls, name)
        row._value_ = name
        row.terminals, row.sources, row.sinks, row.electronic = terminals, sources, sinks, electronic
        row.noun, row.ways = noun, ways
        return row

    @classmethod
    def named(cls, text: str) -> "Output | None":
        """Return the type that is written like this, as a form reads it; None where none is."""
        return next((output for output in cls if folded(text) in map(folded, (output, *output.ways))), None)

    @property
    def family(self) -> str:
        """What a form asks of it: as of the other types with as many terminals, a contact apart."""
        return f"{self.terminals}-wire" if self.electronic else self.value

    @property
    def three_wire(self) -> bool:
        """Whether it is fed by wires of its own, beside the signal."""
        return self.terminals == 3

    @property
    def both_ways(self) -> bool:
        """Whether it drives the signal to plus and to 0 V, one or the other at any time."""
        return self.sources and self.sinks

    @property
    def stage(self) -> str:
        """What switches, as people call it: "contact", or "output" where it is electronic."""
        return "output" if self.electronic else self.noun


class Contact(StrEnum):
    """How a contact or output rests: `rests_closed` tells whether it conducts with the flag away."""

    rests_closed: bool
    words: str
    ways: Ways

    NO = "NO", False, "normally open", ("make",)
    NC = "NC", True, "normally closed", ("break",)

    def __new__(cls, name: str, rests_closed: bool, words: str, ways: Ways) -> "Contact":
        """Make a row of the table."""
        row = str.__new__(cls, name)
        row._value_ = name
        row.rests_closed, row.words, row.ways = rests_closed, words, (words, *ways)
        return row


CHANGEOVER = "changeover"  # of a sensor that offers both; one of them is wired
OUTPUT_WAYS: dict[str, Ways] = {output: output.ways for output in Output}
CONTACT_WAYS: dict[str, Ways] = {contact: contact.ways for contact in Contact}
CHANGEOVER_WAYS: dict[str, Ways] = {CHANGEOVER: ("change over", "CO", "NO/NC")}
