"""Readings as Python has them give the figures that the same readings give as a file."""

import numpy as np
import pytest

import holdzero as hz
from holdzero import demo

RNG = np.random.default_rng(20260105)
VALUES = np.round(RNG.normal(0, 0.004, 40), 3)
SETS = np.repeat([1, 2, 3, 4, 5, 6, 7, 8], 5)
CSV = "set,deviation_mm\n" + "".join(
    f"{label},{value!r}\n" for label, value in zip(SETS, VALUES.tolist(), strict=True)
)
COLUMNS = {"set": SETS, "deviation_mm": VALUES}


def sensors(answer):
    return answer.to_dict()["sensors"]


@pytest.fixture(scope="module")
def expected():
    return sensors(hz.study(CSV, resolution="0.001 mm"))


class TestTheSameWhateverItCameAs:
    """One set of readings, drawn with a seed, handed over in every way."""

    def test_columns(self, expected):
        assert sensors(hz.study(COLUMNS, resolution="0.001 mm")) == expected

    def test_lists(self, expected):
        columns = {"set": SETS.tolist(), "deviation_mm": VALUES.tolist()}
        assert sensors(hz.study(columns, resolution="0.001 mm")) == expected

    def test_a_bare_series_with_its_sets(self, expected):
        assert sensors(hz.study(VALUES, sets=SETS, resolution="0.001 mm")) == expected
        assert sensors(hz.study(list(VALUES), sets=SETS, resolution="0.001 mm")) == expected
        assert sensors(hz.study(iter(VALUES.tolist()), sets=SETS, resolution="0.001 mm")) == expected

    def test_a_path(self, expected, tmp_path):
        (tmp_path / "trial.csv").write_text(CSV)
        assert sensors(hz.study(tmp_path / "trial.csv", resolution="0.001 mm")) == expected
        assert sensors(hz.study(str(tmp_path / "trial.csv"), resolution="0.001 mm")) == expected

    def test_another_unit(self, expected):
        (row,) = hz.study(VALUES * 1e3, sets=SETS, unit="um", resolution="1 um").rows()
        assert row["sd_mm"] == pytest.approx(expected[0]["sd_mm"], rel=1e-12)

    def test_a_pandas_frame_and_series(self, expected):
        pandas = pytest.importorskip("pandas")
        frame = pandas.DataFrame(COLUMNS)
        assert sensors(hz.study(frame, resolution="0.001 mm")) == expected
        series = pandas.Series(VALUES * 1e3, name="deviation_um")
        (row,) = hz.study(series, sets=SETS, resolution="1 um").rows()
        assert row["sd_mm"] == pytest.approx(expected[0]["sd_mm"], rel=1e-12)

    def test_a_polars_frame_and_series(self, expected):
        polars = pytest.importorskip("polars")
        frame = polars.DataFrame(COLUMNS)
        assert sensors(hz.study(frame, resolution="0.001 mm")) == expected
        assert sensors(hz.study(frame["deviation_mm"], sets=SETS, resolution="0.001 mm")) == expected
        with pytest.raises(ValueError, match="collect"):
            hz.study(frame.lazy())

    def test_words_beside_figures(self):
        answer = hz.study({"deviation_um": [1, 2, 3, 2, 1], "side": ["L"] * 5}, sensor="K", axis="Y", resolution=0)
        (row,) = answer.rows()
        assert (row["sensor"], row["axis"], row["side"], row["n"]) == ("K", "Y", "L", 5)

    def test_what_is_missing_elsewhere_is_left_empty(self):
        pandas = pytest.importorskip("pandas")
        frame = pandas.DataFrame(
            {
                "deviation_um": [1.0, 2.0, 3.0, 2.0],
                "set": [1.0, 1.0, 2.0, 2.0],
                "set_aside": [None, "a chip", None, None],
                "temperature_degc": [np.nan, 18.5, np.nan, 19.0],
                "time": pandas.to_datetime(
                    ["2026-01-05T09:00", "2026-01-05T09:01", pandas.NaT, "2026-01-05T10:00"]
                ),
            }
        )
        (row,) = hz.study(frame, resolution=0).rows()
        assert (row["n"], row["n_set_aside"], row["sets"]) == (3, 1, 2)


class TestRefused:
    """Each is a ValueError that says what was found, what is needed and what to do."""

    @pytest.mark.parametrize(
        ("readings", "words"),
        [
            ([0.01, float("nan"), 0.02], "row 2: found nan; needed is a number for each homing"),
            ([0.01, None], "row 2: found None"),
            ([0.01, float("inf")], "row 2: found inf"),
            (np.ma.masked_array([0.1, 0.2], mask=[False, True]), "row 2: found None"),
            (np.zeros((3, 5)), r"an array of shape \(3, 5\); needed is one series of deviations, shape \(n,\)"),
            ([[0.1, 0.2], [0.3]], "rows of different lengths"),
            ([], "no reading"),
            (3.5, "a float; needed is deviations, or named columns"),
            (None, "a NoneType"),
            ({}, "no column"),
            ({"deviation_mm": [0.1, 0.2], "set": [1]}, r"columns of different lengths \(deviation_mm 2, set 1\)"),
            ({"deviation_mm": 0.1}, "a value for each homing"),
            ({3: [0.1]}, "a column called 3"),
            ({"dial": [0.1, 0.2]}, "deviation_mm"),
            (["a", "b"], "needed is"),
        ],
        ids=str,
    )
    def test_readings(self, readings, words):
        with pytest.raises(ValueError, match=words):
            hz.study(readings)

    @pytest.mark.parametrize(
        ("options", "words"),
        [
            ({"unit": "parsec"}, "needed is mm, um, in or thou"),
            ({"resolution": 0.001}, "0.001 without a unit"),
            ({"resolution": "-1 um"}, "a length of zero or more"),
            ({"resolution": "1 kg"}, "resolution"),
            ({"protocol": "guess"}, "one of outside, first, previous, previous-reset, encoder"),
            ({"units": "imperial"}, "metric or inch"),
            ({"misses": {"K": (3, 2)}}, "how many of how many"),
        ],
        ids=str,
    )
    def test_options(self, options, words):
        with pytest.raises(ValueError, match=words):
            hz.study([0.01, 0.02, 0.03], **options)

    def test_words_that_a_file_says_itself(self, tmp_path):
        (tmp_path / "trial.csv").write_text(CSV)
        with pytest.raises(ValueError, match="leave sensor out"):
            hz.study(tmp_path / "trial.csv", sensor="K")

    def test_a_file_that_is_not_there(self, tmp_path):
        with pytest.raises(ValueError, match="no such file"):
            hz.study(tmp_path / "none.csv")


def test_spread_is_of_one_series():
    with pytest.raises(ValueError, match="series"):
        hz.spread(demo.readings_csv())
    assert hz.spread(VALUES, sets=SETS, resolution="1 um").rows()[0]["sets"] == 8
