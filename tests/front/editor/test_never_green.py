"""Whatever is typed, saved, closed and proved: what is green is proved of what stands there."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest

from verifier.front.editor.jobs import OpenJob, Reading
from verifier.pipeline import Result, checked

POINTS = ("button push\nlamp light\n", "button push\nlamp light 5 W\n", "lamp 12\n", "")
RULES = tuple(
    f"rule r\n  retriggerable\n  upon push pressed\n  do\n    light on\n    wait {seconds} s\n"
    "    light off\nend rule\nrequire short\n  no longer than 15 s: light is on\nend require\n"
    for seconds in (10, 20)
)
TEXTS = {
    "a.dusk": POINTS,
    "b.dusk": (*RULES, "# a remark\n" + RULES[0], RULES[0].replace("end rule", "end"), ""),
}


class Editing:
    """An open job, its folder, and a judge that answers when it likes."""

    def __init__(self, folder: Path, rng: Random) -> None:
        self.folder, self.rng = folder, rng
        self.job = OpenJob(folder, "made")
        self.rounds: list[tuple[int, Reading]] = []
        self.stamp = 0

    def pick(self) -> tuple[str, str]:
        name = self.rng.choice(sorted(TEXTS))
        likely = TEXTS[name][: 1 if name == "a.dusk" else 2]
        return name, self.rng.choice(likely if self.rng.random() < 0.8 else TEXTS[name])

    def once(self) -> None:
        """Something that an editor, a person or the judge does."""
        name, text = self.pick()
        match self.rng.randrange(14):
            case 0 | 1:
                self.job.put(name, text)
            case 2:
                self.job.drop(name)
            case 3:
                self.written(name, text)
                self.job.read()  # the editor tells of it, and the server reads
            case 4 | 5 | 6:
                reading = self.job.read()
                if reading.job is not None and not self.job.is_judged():
                    self.rounds.append((len(self.rounds) + 1, reading))
                    self.job.begin(*self.rounds[-1])
            case _:
                self.heard()

    def written(self, name: str, text: str) -> None:
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        self.stamp += 1_000_000_000
        os.utime(path, ns=(self.stamp, self.stamp))
        if self.rng.random() < 0.05:
            path.unlink()

    def heard(self) -> None:
        """Of a judging, perhaps an old one, a verdict or the end."""
        if not self.rounds:
            return
        number, reading = self.rng.choice(self.rounds[-3:])
        assert reading.job is not None
        whole = {"kind": "judged", "id": number, "interrupted": False, "rejected": False,
                 "findings": []}  # fmt: skip
        messages = [{"kind": "fault", "id": number, "words": "it died"}]
        for each in reading.job.requirements:
            state = "proved" if holds(reading) else "failed"
            messages.append({"kind": "verdict", "id": number, "name": each.name, "state": state,
                             "vacuous": False, "reason": ""})  # fmt: skip
        messages += [whole, {**whole, "interrupted": True}, {**whole, "rejected": True}]
        self.job.heard(self.rng.choice(messages))

    def there(self) -> Result:
        """The job as its texts are now: those in the editor before those on disk."""
        return checked(self.job.sources()[0], "made")


def holds(reading: Reading) -> bool:
    """Ten seconds of light are no longer than fifteen."""
    return any("wait 10 s" in file.text for file in reading.sources.files)


@pytest.mark.parametrize("seed", range(40))
def test_what_is_green_or_red_is_so_of_the_text_that_is_there(tmp_path: Path, seed: int) -> None:
    editing = Editing(tmp_path, Random(seed))
    for name, texts in TEXTS.items():
        editing.written(name, texts[0])
    coloured = 0
    for _ in range(700):
        editing.once()
        for known in editing.job.states():
            if known.state in ("proved", "failed"):
                coloured += 1
                now = editing.there()
                assert now.job is not None
                assert not now.rejected
                ten = any("wait 10 s" in file.text for file in now.sources.files)
                assert known.state == ("proved" if ten else "failed")
    assert coloured
