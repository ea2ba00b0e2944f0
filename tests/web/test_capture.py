"""Capture pages: the tap first, then a file of any size, its channels, the waveform, and into the trial."""

import gzip
import re
from hashlib import sha256
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from captures import homings, write_csv, write_vcd
from holdzero.compute.capture import capture_as_json, capture_findings, read_capture_map
from holdzero.memory import weight
from holdzero.recording import read_recording
from holdzero.store import Book
from holdzero.web import held

ISOLATED = {"tap-rating": "-0.5 V to 5.5 V", "joined": "isolated"}
PNP = {"name": "X home", "sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}}


@pytest.fixture(scope="module")
def run(tmp_path_factory) -> Path:
    """A capture of 24 homings at two speeds, with index and bounce."""
    truth = homings(np.tile([1.0, 5.0], 12), spread=0.003, delay=2e-3, bounce=3e-4, index=1.0, index_at=0.3)
    return write_vcd(tmp_path_factory.mktemp("rig") / "run.vcd", truth)


@pytest.fixture
def machine(book: Book) -> int:
    key = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {"approach_speed": "20 mm/s"}}})
    book.add_sensor(key, "A", {"kind": "lever"})
    return key


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page[page.index("<main") :])))


def bring(client: TestClient, machine: int, path: Path, name: str = "") -> str:
    """Bring a file in as our script does; return the address of its page."""
    client.post(f"/machines/{machine}/capture/tap", data=ISOLATED)
    answer = client.post(f"/machines/{machine}/capture/file?name={name or path.name}", content=path.read_bytes())
    assert answer.status_code == 200, words(answer.text)
    return answer.url.path


def read(client: TestClient, address: str, **texts: str):
    """Say what its channels are, as the page proposes, and read it."""
    page = client.get(address).text
    proposed = {
        name: re.search(r'value="([^"]*)" selected', options)[1]
        for name, options in re.findall(r'<select name="(role-\d+)"[^>]*>(.*?)</select>', page, re.DOTALL)
    }
    return client.post(address, data=proposed | {"count": "0.01 mm"} | texts)


class TestTap:
    """Before anything is read each channel is solved as an input (worked by hand: 24 V on a channel for 5.5 V)."""

    def test_nothing_is_read_before_it_is_said(self, client, book, machine, run):
        assert "Nothing is read yet" in client.get(f"/machines/{machine}/capture").text
        answer = client.post(f"/machines/{machine}/capture/file?name=run.vcd", content=run.read_bytes())
        assert answer.status_code == 422
        assert "its rating, before anything is read" in words(answer.text)

    def test_over_its_rating_it_is_refused_with_the_divider_that_fits(self, client, book, machine, run):
        book.add_sheet(machine, "wiring", {"circuit": [PNP]})
        direct = {"tap-rating": "-0.5 V to 5.5 V", "joined": "direct"}
        page = client.post(f"/machines/{machine}/capture/tap", data=direct).text
        said = words(page)
        assert "refused at X home" in said
        assert "A divider: 39 kΩ" in said  # 24 V + 10 % behind 39 k and 10 k: 5.35 V
        assert "Connect with everything switched off" in said
        assert "Tap of an analyser: its channel at -A1:IN" in said  # on the drawing
        assert "<svg" in page
        answer = client.post(f"/machines/{machine}/capture/file?name=x.vcd", content=run.read_bytes())
        assert answer.status_code == 422
        page = client.post(f"/machines/{machine}/capture/tap", data=direct | {"joined": "instead"}).text
        assert "The analyser may be connected" in words(page)

    def test_the_signals_of_the_encoder_are_an_input_too(self, client, machine):
        data = {"tap-rating": "-0.5 V to 3.6 V", "signals": "5 V", "joined": "direct"}
        answer = client.post(f"/machines/{machine}/capture/tap", data=data)
        assert "Encoder or step signals: A divider" in words(answer.text)

    def test_what_cannot_be_read_is_said_at_its_field(self, client, book, machine):
        answer = client.post(f"/machines/{machine}/capture/tap", data={"tap-rating": "5 kg"})
        assert answer.status_code == 422
        assert "5 kg" in answer.text
        assert book.sheets(machine, "capture") == ()

    def test_a_long_run_is_offered_only_where_the_axis_was_shown_to_stop(self, client, machine):
        said = words(client.get(f"/machines/{machine}/capture").text)
        assert "Not offered on X now" in said
        assert "within reach of the stop" in said


class TestFile:
    """A file comes in as a stream or with a form, is read by its channels, and says what the terminal says."""

    def test_the_same_figures_as_from_the_terminal(self, client, book, machine, run):
        address = bring(client, machine, run)
        assert "encoder A" in client.get(address).text
        answer = read(client, address)
        said = words(answer.text)
        assert "SW: 24 trips, 24 releases, 0 pulses; spread" in said
        assert re.search(r"SW answers \d.* late", said)
        text = '[capture]\ncount = "0.01 mm"\na = "A"\nb = "B"\nindex = "Z"\nswitches = ["SW"]\n'
        channels = read_capture_map(text + 'approach_speed = "20 mm/s"\n')  # as the machine states it
        wanted = capture_as_json(capture_findings(read_recording(run, channels), channels))
        twin = client.get(address + ".json").json()
        assert twin["digest"] == sha256(run.read_bytes()).hexdigest()
        assert {name: twin[name] for name in wanted} == wanted

    def test_without_our_script_and_packed(self, client, machine, run, tmp_path):
        packed = tmp_path / "run.vcd.gz"
        packed.write_bytes(gzip.compress(run.read_bytes()))
        client.post(f"/machines/{machine}/capture/tap", data=ISOLATED)
        with packed.open("rb") as file:
            answer = client.post(f"/machines/{machine}/capture/file", files={"file": (packed.name, file)})
        assert "which channel is which" in answer.text
        assert "24 trips" in words(read(client, answer.url.path).text)

    def test_csv_without_a_clock_asks_for_the_rate(self, client, machine, tmp_path):
        truth = homings([2.0, 2.0, 2.0], tick_s=1e-4, trip_at=1.0)
        path = write_csv(tmp_path / "run.csv", truth, how="samples")
        address = bring(client, machine, path)
        refused = read(client, address)
        assert (refused.status_code, "rate" in refused.text) == (200, True)
        assert 'role="alert"' in refused.text
        assert "3 trips" in words(read(client, address, rate="10 kHz").text)

    @pytest.mark.parametrize(("content", "what"), [(b"PK\x03\x04 zip", "looks like"), (b"  ", "nothing in it")])
    def test_no_capture_is_refused_and_nothing_stays(self, client, machine, content, what):
        client.post(f"/machines/{machine}/capture/tap", data=ISOLATED)
        answer = client.post(f"/machines/{machine}/capture/file?name=x", content=content)
        assert (answer.status_code, what in words(answer.text)) == (422, True)
        assert all(known.name != "x" for known in held.held_of(machine))

    def test_damage_is_named_with_byte_and_line(self, client, machine, run, tmp_path):
        broken = tmp_path / "run.vcd"
        data = run.read_bytes()
        at = data.index(b"\n#", len(data) // 2)
        broken.write_bytes(data[:at] + b"\n?!" + data[at:])
        said = words(read(client, bring(client, machine, broken)).text)
        assert re.search(r"run.vcd, byte \d+, line \d+: found \"\?!\"", said)

    def test_two_channels_for_one_signal_are_refused_and_what_was_chosen_stays(self, client, machine, run):
        address = bring(client, machine, run)
        data = {"role-0": "a", "role-1": "a", "role-2": "switch", "count": "0.02 mm"}
        answer = client.post(address, data=data)
        assert answer.status_code == 422
        assert "a second encoder A" in answer.text
        assert 'value="0.02 mm"' in answer.text

    def test_memory_grows_with_the_edges_and_not_with_the_file(self, client, machine, run, tmp_path):
        """Thirty times the bytes in comments: what is held at once while it comes in stays below 4 MB."""
        import tracemalloc

        data = run.read_bytes()
        big = tmp_path / "big.vcd"
        with big.open("wb") as file:
            file.write(data)
            for _ in range(400):
                file.write(b"$comment " + b"x" * 60_000 + b" $end\n")
        client.post(f"/machines/{machine}/capture/tap", data=ISOLATED)

        def blocks():
            with big.open("rb") as file:
                while block := file.read(1 << 16):
                    yield block

        incoming = held.Incoming(machine, "big.vcd")
        tracemalloc.start()
        for block in blocks():
            incoming.take(block)
        capture = incoming.done()
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert capture.size == big.stat().st_size > 24e6
        assert most < 4e6
        assert capture.digest == sha256(big.read_bytes()).hexdigest()

    def test_what_was_read_of_older_ones_goes_when_it_takes_too_much(self, client, machine, run, monkeypatch):
        older, newer = (bring(client, machine, run, name) for name in ("older.vcd", "newer.vcd"))
        assert "24 trips" in words(read(client, older).text)
        second, first = held.held_of(machine)[:2]
        assert first.taken >= weight(first.recorded) > 1000
        monkeypatch.setattr(held, "MOST_READ", first.taken)
        read(client, newer)
        assert (first.findings, first.recorded, first.taken, second.taken > 0) == (None, None, 0, True)
        page = client.get(older)
        assert (page.status_code, "made room for a newer capture: read it again" in words(page.text)) == (
            200,
            True,
        )
        assert client.get(older + ".json").status_code == 422
        assert "24 trips" in words(read(client, older).text)
        assert (first.taken > 0, second.taken) == (True, 0)
        assert "made room" not in words(client.get(older).text)


class TestWaveform:
    """Around one trip: a window of the file, looked at closer, along, and from trip to trip by plain links."""

    @pytest.fixture
    def address(self, client, machine, run):
        address = bring(client, machine, run)
        read(client, address)
        return address

    def ways(self, page: str) -> dict[str, str]:
        return {name: unescape(href) for name, href in re.findall(r'data-way="([^"]+)" href="([^"]+)"', page)}

    def window(self, page: str) -> tuple[int, int]:
        return tuple(int(re.search(rf'data-{name}="(-?\d+)"', page)[1]) for name in ("start", "end"))

    def test_links_lead_closer_along_and_back(self, client, address):
        page = client.get(address).text
        start, end = self.window(page)
        closer = client.get(self.ways(page)["Closer"]).text
        assert self.window(closer)[1] - self.window(closer)[0] == pytest.approx((end - start) / 2, abs=2)
        later = client.get(self.ways(page)["Later"]).text
        assert self.window(later)[0] == pytest.approx(start + (end - start) / 2, abs=1)
        assert self.window(client.get(self.ways(closer)["This trip"]).text) == (start, end)
        whole = client.get(self.ways(page)["The whole file"]).text
        assert self.window(whole)[0] == 0
        assert "Wider" not in self.ways(whole)
        assert "Release 2 of 48" in client.get(self.ways(page)["Next trip"]).text

    def test_the_part_alone_for_our_script(self, client, address):
        part = client.get(address + "?event=3&part=wave").text
        assert part.strip().startswith('<div id="wave"')
        assert "Release 4 of 48" in part
        assert "<header" not in part

    def test_odd_addresses_show_what_there_is(self, client, address):
        odd = ("event=99999", "event=-1", "from=5&to=5", "from=-99&to=1e9", "from=x", "switch=7", "missed=2")
        for query in odd:
            assert client.get(f"{address}?part=wave&{query}").status_code == 200, query
        assert client.get(f"{address}?rows=abc&missed=2").status_code == 200


class TestInto:
    """It becomes a trial of the kind long run, with the digest; twice it is refused."""

    def test_kept_with_its_digest(self, client, book, machine, run):
        address = bring(client, machine, run)
        read(client, address)
        answer = client.post(address + "/keep", data={"sensor": "A", "axis": "X", "side": ""})
        assert answer.url.path.endswith("/findings")
        (trial,) = book.trials(machine)
        sha = sha256(run.read_bytes()).hexdigest()
        assert (trial.kind, sha in trial.note) == ("long run", True)
        (group,) = book.readings(trial.id).groups
        assert group.homing.size == 12  # the slowest speed makes the home
        assert "in the trial Long run" in client.get(address).text
        assert client.post(address + "/keep", data={"sensor": "A", "axis": "X"}).status_code == 422

    def test_what_it_measures_goes_into_the_machine(self, client, book, machine, run):
        """The made-up switch releases 0.1 mm before it trips and answers 2 ms late."""
        address = bring(client, machine, run)
        read(client, address)
        answer = client.post(address + "/measured", data={"axis": "X"})
        assert answer.url.path.endswith("/travel")
        axis = book.machine(machine).machine.axes[0]
        assert axis.places.differential_travel_mm == pytest.approx(0.1, abs=0.004)
        assert 1.5e-3 < axis.reaction.response_s < 4e-3
        assert book.machine(machine).document["axes"]["X"]["approach_speed"] == "20 mm/s"
        assert client.post(address + "/measured", data={"axis": "Q"}).status_code == 422

    def test_both_sides_of_a_gantry_in_one_file(self, client, book, machine, tmp_path):
        """The right switch trips 900 us after the left, at 2 mm/s: 1.8 um further in."""
        truth = homings([2.0] * 12, switch="home_L", trip_at=1.0)
        truth.initial["home_R"] = 0
        for trip, release in zip(truth.trip_tick, truth.release_tick, strict=True):
            truth.changes += [(trip + 900, "home_R", 1), (release - 4000, "home_R", 0)]
        address = bring(client, machine, write_vcd(tmp_path / "both.vcd", truth))
        page = read(client, address).text
        assert "Left, home_L: 12 trips" in words(page)
        assert "Right less left, 12 homings: mean 1.80" in words(page).replace("\u202f", " ")
        right = re.search(r'data-way="switch" href="([^"]+)">home_R', page)[1]
        assert "Trip 1 of 24, home_R" in client.get(unescape(right)).text
        client.post(address + "/keep", data={"sensor": "A", "axis": "X"})
        (trial,) = book.trials(machine)
        assert [(group.side, group.homing.size) for group in book.readings(trial.id).groups] == [
            ("L", 12),
            ("R", 12),
        ]

    def test_step_and_direction(self, client, machine, tmp_path):
        truth = homings([2.0, 2.0, 5.0], steps=True, trip_at=0.5)
        address = bring(client, machine, write_vcd(tmp_path / "steps.vcd", truth))
        said = words(read(client, address, **{"role-0": "step", "role-1": "direction"}).text)
        assert "SW: 3 trips, 3 releases" in said
        assert f"the count ends at {truth.final_count}" in said

    def test_debounce_is_answered(self, client, machine, run):
        address = bring(client, machine, run)
        said = words(read(client, address, debounce="quiet").text)
        assert "until it is quiet" in said.casefold()
        assert "out of lock-out" not in said
        page = words(client.get(address + "?missed=0.01").text)
        assert "1 in 100 missed" in page

    def test_the_map_goes_on_to_the_next_capture_and_to_a_file(self, client, machine, run):
        address = bring(client, machine, run)
        read(client, address, inward="-", count="0.02 mm", **{"low-2": "yes"})
        text = client.get(address + "/map.toml").text
        channels = read_capture_map(text)
        assert (channels.inward, channels.count_mm, channels.switches[0].active_low) == (-1, 0.02, True)
        page = client.get(bring(client, machine, run, "next.vcd")).text
        assert 'value="0.02 mm"' in page
        assert re.search(r'name="low-2" value="yes" checked', page)

    def test_what_is_gone_says_so(self, client, machine):
        answer = client.get(f"/machines/{machine}/capture/0123456789abcdef")
        assert answer.status_code == 422
        assert "bring the file in again" in words(answer.text)
