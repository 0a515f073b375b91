"""A problem that is kept is read by each in the own language."""

from __future__ import annotations

from bedlore.errors import KeeperError
from bedlore.say import again, say, speaking


def test_a_problem_is_told_to_whoever_listens_and_can_be_kept() -> None:
    def problem() -> KeeperError:
        return KeeperError(say("There is no such file."), "farm.toml", say("Check the number."))

    kept = problem()
    assert str(kept) == "farm.toml: There is no such file. Check the number."
    assert kept.said == str(kept)
    with speaking("es"):
        assert str(problem()) == "farm.toml: No existe ese archivo. Comprueba el número."
        assert again(kept.said) == str(problem())


def test_plain_texts_stay_as_they_are() -> None:
    assert str(KeeperError("as typed")) == KeeperError("as typed").said == "as typed"
