"""Books of a few files here take every step of their making, as a person's do."""

import pytest

from holdzero.store import file, migrate


@pytest.fixture
def every_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(file, "migrate", migrate.migrate)
