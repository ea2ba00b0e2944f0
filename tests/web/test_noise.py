"""Noise hunt: false trips under each condition, with intervals, kept in the book."""

from starlette.testclient import TestClient

from holdzero.store import Book


def counted(client: TestClient, machine: int, **given: str):
    return client.post(f"/machines/{machine}/noise", data={"hours": "1", "trips": "0"} | given)


def test_counts_are_kept_and_each_change_is_judged(client: TestClient, book: Book, demo: int):
    """Garwood: 9 in 1 h is 4.1 to 17 an hour; given 9 and 1, 1 after 9 helped (as in `plan.noise`)."""
    page = client.get(f"/machines/{demo}/noise").text
    assert "First count false trips as the machine runs" in page
    counted(client, demo, condition="as it runs", trips="9", note="damp day")
    page = counted(client, demo, condition="all quiet", trips="1", hours="60 min").text
    assert "fewer with all quiet</h1>" in page
    assert "4.1 to 17" in page
    assert "Fewer than as it runs: at most 0.80 times as many" in page
    assert [(one.condition, one.trips, one.watched_s, one.note) for one in book.noise_counts(1)] == [
        ("as it runs", 9, 3600, "damp day"),
        ("all quiet", 1, 3600, ""),
    ]


def test_counts_of_one_condition_add_up_and_one_can_be_taken_back(client: TestClient, demo: int):
    """Two counts of 1 h with 2 and 4 trips are 6 in 2 h: 3 an hour."""
    for trips in ("2", "4"):
        page = counted(client, demo, condition="as it runs", trips=trips).text
    assert "6 in 2 h" in page
    page = client.post("/noise/2/undo", data={"back": f"/machines/{demo}/noise"}).text
    assert "2 in 1 h" in page


def test_the_next_condition_is_offered_and_a_change_of_one_s_own_is_held_against_as_it_runs(
    client: TestClient, demo: int
):
    page = counted(client, demo, condition="as it runs", trips="5").text
    assert '<option value="all quiet" selected>' in page
    page = counted(client, demo, condition="own", own="new cable").text
    assert "Against as it runs: cannot tell yet" in page


def test_what_is_wrong_is_said_at_its_field(client: TestClient, book: Book, demo: int):
    for given, said in (
        ({"condition": "as it runs", "trips": "1.5"}, "which is not whole"),
        ({"condition": "as it runs", "hours": "0"}, "more than no time"),
        ({"condition": "as it runs", "hours": "2 kg"}, "2 kg"),
        ({"condition": "own"}, "the change that was made"),
    ):
        answer = counted(client, demo, **given)
        assert (answer.status_code, said in answer.text) == (422, True), given
    assert book.noise_counts(1) == ()


def test_a_machine_without_a_trial_begins_one_for_its_hunt(client: TestClient, book: Book):
    machine = book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
    counted(client, machine, condition="as it runs", trips="3")
    assert [one.name for one in book.trials(machine)] == ["Noise hunt"]
    assert book.noise_counts(1)[0].trips == 3


def test_the_trial_shows_it_and_the_figures_are_in_the_twins(client: TestClient, demo: int):
    counted(client, demo, condition="as it runs", trips="9")
    counted(client, demo, condition="all quiet", trips="0")
    assert "9.0 false trips an hour (4.1 to 17) as it runs" in client.get(f"/machines/{demo}/trial").text
    for page in ("trial", "findings"):
        noise = client.get(f"/machines/{demo}/{page}.json").json()["noise"]
        assert [one["condition"] for one in noise["conditions"]] == ["as it runs", "all quiet"]
    assert client.get(f"/machines/{demo}/noise.json").json()["conditions"][1]["helped"] is True
