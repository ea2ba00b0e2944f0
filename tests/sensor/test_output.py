"""The types of output: one row each, and every way to write them is read alike by both forms."""

import pytest

from holdzero.compute.wiring import keys as wiring
from holdzero.inputs.sensor import KEYS
from holdzero.inputs.sensor.output import CHANGEOVER, Contact, Output


def key_of(keys, name):
    return next(key for key in keys if key.name == name)


@pytest.mark.parametrize("output", Output)
def test_every_way_to_write_it_is_read_as_its_row(output):
    for way in (output, *output.ways, output.upper().replace("-", " ")):
        assert Output.named(way) is output
        for keys in (KEYS, wiring.SENSOR_KEYS):
            assert key_of(keys, "output").read(way, "here") == (output,)
            assert key_of(keys, "output").read(way, "here")[0] is output


def test_no_way_to_write_names_two_types():
    ways = [way.casefold() for output in Output for way in (output, *output.ways)]
    assert len(ways) == len(set(ways))
    assert Output.named("unknown") is Output.named("") is None


def test_what_the_rows_say():
    """IEC 60947-5-2: an NPN output sinks the load's current, a PNP output sources it; DC 3-wire needs a supply."""
    assert {output for output in Output if output.sinks} == {Output.NPN, Output.PUSH_PULL}
    assert {output for output in Output if output.sources} == {Output.PNP, Output.PUSH_PULL}
    assert {output for output in Output if output.three_wire} == {Output.NPN, Output.PNP, Output.PUSH_PULL}
    assert [output for output in Output if not output.electronic] == [Output.DRY_CONTACT]
    assert (Contact.NC.rests_closed, Contact.NO.rests_closed) == (True, False)


def test_contact_forms_are_read_as_their_rows():
    for keys in (KEYS, wiring.SENSOR_KEYS):
        contact = key_of(keys, "contact")
        assert contact.read("normally closed", "here")[0] is Contact.NC
        assert contact.read("make", "here")[0] is Contact.NO
        assert contact.read("CO", "here") == (CHANGEOVER,)
