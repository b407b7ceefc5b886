"""What a page is told when its text is stopped, or its process lost, before it has come to be proved."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest

from tests.front.play.served import PORCH
from verifier.front.play.child import Child, Ending, Hear
from verifier.front.play.limits import Limits
from verifier.front.play.orders import TO_PROVE, Order, Setup
from verifier.front.play.session import Page
from verifier.pipeline import Keeping

TEXT = json.dumps({"kind": "text", "version": 7, "files": {"job.dusk": PORCH}})
MEANWHILE = ""
"""All that can be done is done before the next message."""

STOP = json.dumps({"kind": "stop"})


class Slow:
    """Processes that do nothing of their own: of each order a test says how it goes."""

    def __init__(self, desk: Ending, said: list[bytes], bench: asyncio.Event) -> None:
        self.desk, self.said, self.bench = desk, said, bench

    async def carry_out(self, child: Child, order: Order, limit_s: float, hear: Hear) -> Ending:
        if child.role == "bench":
            await self.bench.wait()
            return "done"
        for frame in self.said:
            hear(frame)
        return self.desk


async def turns(count: int) -> None:
    for _ in range(count):
        await asyncio.sleep(0)


async def told_of(
    monkeypatch: pytest.MonkeyPatch, messages: list[str], desk: Ending = "done"
) -> list[dict[str, Any]]:
    """What is told while the bench is still at something else."""
    heard: list[dict[str, Any]] = []

    async def send(text: str) -> None:
        heard.append(json.loads(text))

    async def nothing(child: Child) -> None:
        return None

    slow = Slow(desk, [TO_PROVE] if desk == "done" else [], asyncio.Event())
    monkeypatch.setattr(Child, "start", nothing)
    monkeypatch.setattr(Child, "carry_out", lambda child, *given: slow.carry_out(child, *given))
    page = Page(Setup("made", Limits(), (2027, 2056), Keeping(None, None)), send)
    working = asyncio.create_task(page.run())
    for message in messages:
        if message == MEANWHILE:
            await turns(50)
        else:
            page.hear(message)
    await turns(50)
    working.cancel()
    with pytest.raises(asyncio.CancelledError):
        await working
    return heard


@pytest.mark.asyncio
async def test_a_text_that_is_stopped_before_it_is_proved_comes_to_an_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Else the page would say that it is being proved for ever."""
    (told,) = await told_of(monkeypatch, [TEXT, STOP])
    assert (told["kind"], told["version"], told["interrupted"]) == ("judged", 7, True)


@pytest.mark.asyncio
async def test_a_text_whose_process_dies_while_it_is_read_comes_to_an_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    error, told = await told_of(monkeypatch, [TEXT], "died")
    assert "has died" in error["words"]
    assert (told["kind"], told["version"], told["interrupted"]) == ("judged", 7, True)


@pytest.mark.asyncio
async def test_a_text_that_waits_for_the_bench_and_is_stopped_comes_to_an_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The bench is still being cut short over the text before."""
    other = TEXT.replace('"version": 7', '"version": 6')
    told = await told_of(monkeypatch, [other, MEANWHILE, TEXT, MEANWHILE, STOP])
    assert [(each["kind"], each.get("version")) for each in told if each["kind"] == "judged"] == [
        ("judged", 7)
    ]
