"""The process that proves for an editor: an order that comes to a dead one is given again, once."""

from __future__ import annotations

import asyncio
import os
import signal
from typing import Any

import pytest

from verifier.front.editor.judge import Judge

JOB = {
    "job.dusk": """\
button push
lamp light
rule on_push
  upon push pressed
  do
    light on
end rule
require lit
  when push pressed: light is on within 0 s
end require
"""
}


async def judged(kills: int) -> list[dict[str, Any]]:
    """What is heard of a second order, with so many processes killed just before they have it."""
    heard: list[dict[str, Any]] = []
    news = asyncio.Event()

    def hear(message: dict[str, Any]) -> None:
        heard.append(message)
        if message["kind"] in ("judged", "fault"):
            news.set()

    judge = Judge(hear)
    try:
        await judge.judge(judge.number(), "job", JOB, 10.0)
        await asyncio.wait_for(news.wait(), 120)
        news.clear()
        heard.clear()
        send = judge._send
        left = kills

        async def killed_before(order: dict[str, Any]) -> None:
            nonlocal left
            if left:
                left -= 1
                process = await judge._started()
                os.kill(process.pid, signal.SIGKILL)
            await send(order)

        judge._send = killed_before  # type: ignore[method-assign]
        await judge.judge(judge.number(), "job", JOB, 10.0)
        await asyncio.wait_for(news.wait(), 120)
        return heard
    finally:
        await judge.close()


@pytest.mark.asyncio
async def test_an_order_to_a_dead_process_is_given_again() -> None:
    assert [message["kind"] for message in await judged(1)] == ["verdict", "judged"]


@pytest.mark.asyncio
async def test_a_process_that_dies_again_is_told() -> None:
    (told,) = await judged(2)
    assert (told["kind"], told["words"]) == ("fault", "the process that proves has died")
