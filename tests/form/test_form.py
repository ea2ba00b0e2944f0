"""Forms: keys read from texts, and TOML there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.errors import InputError
from holdzero.form import (
    NOT_NEGATIVE,
    choice,
    half_width,
    one_quantity,
    read_keys,
    read_toml,
    table,
    text,
    whole,
    with_tolerance,
    words,
    write_toml,
    yes_or_no,
)

KEYS = (
    one_quantity("lead", "length", "lead_mm", "10 mm", "Way per turn"),
    one_quantity("delay", "time", "delay_s", "12 ms", "Delay", sign=NOT_NEGATIVE),
    with_tolerance("play", "length", "play_mm", "play_half_width_mm", "0.3 mm +- 0.2 mm", "Play"),
    half_width("varies", "voltage", "varies_v", "+- 0.5 V", "How far it varies"),
    whole("motors", "motors", "2", "How many"),
    choice("back_off_from", "back_off_from", {"rest": ("where it stops",), "trip": ()}, "Where from"),
    choice("rail", "rail", {"plus": ("+",), "minus": ("-",)}, "Which rail"),
    words("place", "place", ("dust", "ferrous dust", "chips"), "chips", "What is about"),
    yes_or_no("proves", "proves", "Whether it proves"),
    text("name", "name", "Router", "Its name"),
)


def read_one(**entered):
    return read_keys(entered, KEYS, path=("axes", "Y"), where="machine.toml")[0]


def test_each_kind_of_key_fills_its_fields():
    assert read_one(lead="0.5 in") == {"lead_mm": 12.7}
    assert read_one(delay="0 s") == {"delay_s": 0}
    assert read_one(play="0.3 mm +- 0.2 mm") == {"play_mm": 0.3, "play_half_width_mm": 0.2}
    assert read_one(varies="± 0.5 V") == read_one(varies="0.5 V") == {"varies_v": 0.5}
    assert read_one(motors=2) == read_one(motors="2") == {"motors": 2}
    assert read_one(back_off_from="Where it stops") == {"back_off_from": "rest"}
    assert read_one(rail="-") == {"rail": "minus"}
    assert read_one(place="chips, Ferrous-dust") == read_one(place=["chips", "ferrous dust"])
    assert read_one(place="chips, chips") == {"place": ("chips",)}
    assert read_one(proves=True) == read_one(proves="yes") == {"proves": True}
    assert read_one(name=" Plywood \n router ") == {"name": "Plywood router"}


def test_a_field_left_alone_is_not_given():
    assert read_one(lead="", delay=None, name="  ") == {}


@pytest.mark.parametrize(
    ("entered", "says"),
    [
        ({"lead": "-10 mm"}, "axes.Y.lead: found \"-10 mm\"; needed is lead above zero"),
        ({"lead": "0 mm"}, "lead above zero"),
        ({"lead": 10}, 'axes.Y.lead: found "10" without a unit; needed is a length'),
        ({"lead": "10 V"}, "a voltage; needed is a length"),
        ({"lead": ["10 mm"]}, r"found \['10 mm'\]; needed is a length"),
        ({"delay": "-1 ms"}, "delay not below zero"),
        ({"motors": 1.5}, "not whole"),
        ({"motors": "0"}, "motors above zero"),
        ({"motors": True}, "found True; needed is a whole number"),
        ({"back_off_from": "ret"}, "one of rest, trip; did you mean rest"),
        ({"back_off_from": 1}, "found 1; needed is back_off_from as one of rest, trip"),
        ({"rail": 1.5}, "found 1.5; needed is rail as one of plus, minus"),
        ({"place": "mud"}, "one of dust, ferrous dust, chips"),
        ({"place": 3}, "a list of words for place"),
        ({"proves": "perhaps"}, "one of yes, no"),
        ({"proves": 1}, "one of yes, no"),
        ({"name": 5}, "a text for name"),
    ],
)  # fmt: skip
def test_what_a_key_cannot_take_names_file_and_key(entered, says):
    with pytest.raises(InputError, match=says) as caught:
        read_one(**entered)
    assert str(caught.value).startswith("machine.toml, axes.Y.")


def test_unknown_keys_are_noted_with_what_they_may_mean():
    _, notes = read_keys({"leed": "10 mm", "Back off from": "rest", "colour": "red"}, KEYS, path=("axes", "Y"))
    assert notes == (
        "axes.Y.leed is kept but not used; did you mean lead.",
        'axes.Y."Back off from" is kept but not used; did you mean back_off_from.',
        "axes.Y.colour is kept but not used.",
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[axes.Y]\nlead = 10 mm\n", "machine.toml, line 2, column 11: found a line that is not TOML"),
        ("[axes.Y\n", "machine.toml, line 1"),
        ("lead = '10 mm", "machine.toml, (line 1|end of document)"),
        ("a = 1\na = 2\n", "line 2.*Cannot overwrite a value"),
        ("a = " + "9" * 5000, "not TOML"),
        ("a = " + "[" * 5000, "not TOML"),
    ],
)
def test_what_is_not_toml_is_told_with_its_line(text, says):
    with pytest.raises(InputError, match=says) as caught:
        read_toml(text, where="machine.toml")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "text", [f"[a{'.a' * 3000}]\nb = 1", "a = " + "[" * 60 + "]" * 60, "a = " + "{a = " * 60 + "1" + "}" * 60]
)
def test_tables_in_tables_without_end_are_refused(text):
    with pytest.raises(InputError, match=r"machine\.toml: found more than 50 tables or lists in each other"):
        read_toml(text, where="machine.toml")


def test_a_byte_order_mark_is_skipped():
    assert read_toml("\ufeffa = 1") == {"a": 1}


def test_something_else_where_a_table_is_needed():
    with pytest.raises(InputError, match=r'f.toml, axes.Y: found "10 mm"; needed is a table \[axes.Y\]'):
        table({"axes": {"Y": "10 mm"}}, "axes", "Y", where="f.toml")
    assert table({}, "axes", "Y") == {}


names = st.text(st.characters(codec="utf-8"), min_size=1, max_size=6)
scalars = (
    st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.floats(allow_nan=False)
    | st.text(st.characters(codec="utf-8"), max_size=12)
    | st.dates()
    | st.datetimes()
)
inner = st.recursive(
    scalars | st.lists(scalars, max_size=3),
    lambda deeper: (
        st.dictionaries(names, deeper, max_size=3)
        | st.lists(st.dictionaries(names, deeper, max_size=2), min_size=1, max_size=3)
        | st.lists(deeper, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(names, inner, max_size=4))
def test_written_toml_reads_back_equal(document):
    assert read_toml(write_toml(document, head="made up")) == document


def test_none_is_left_out():
    assert read_toml(write_toml({"a": {"b": None, "c": 1}})) == {"a": {"c": 1}}
