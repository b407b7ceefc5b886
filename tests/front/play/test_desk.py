"""The desk of a page: what it says is of the text that it was told last, however that went."""

from __future__ import annotations

from typing import Any

import pytest

from tests.front.play.served import PORCH
from verifier.front.play.desk import Desk
from verifier.front.play.limits import Limits
from verifier.front.play.messages import Format, Message, RoomDo, TellStory, Text
from verifier.front.play.orders import Answer, Setup
from verifier.pipeline import Keeping


def test_a_text_whose_reading_is_cut_short_leaves_nothing_of_the_text_before(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A page would lay out, tell and play the older text as if it were the one that it shows."""
    told: list[dict[str, Any]] = []
    desk = Desk(Setup("made", Limits(), (2027, 2056), Keeping(None, None)), told.append, frames())

    def ask(message: Message) -> dict[str, Any]:
        desk.carry_out(Answer(message))
        return told[-1]

    assert ask(Text(1, (("job.dusk", PORCH),)))["version"] == 1
    with monkeypatch.context() as patch:
        patch.setattr("verifier.front.play.desk.checked", interrupted)
        with pytest.raises(KeyboardInterrupt):
            ask(Text(2, (("job.dusk", PORCH.replace("porch", "yard")),)))
    assert "not read to its end" in ask(RoomDo("start", "", None, ""))["words"]
    assert "no requirement" in ask(TellStory(2, "lit"))["words"]
    laid_out = ask(Format(2, "job.dusk"))
    assert "yard" in laid_out["text"]
    assert "porch" not in laid_out["text"]


def interrupted(*_: object) -> None:
    raise KeyboardInterrupt


def frames() -> Any:
    """Takes what is meant for the server."""
    return lambda data: None
