"""Random edits of good jobs, and everything that an editor asks of each: an answer, never a fault."""

from __future__ import annotations

from random import Random

import pytest
from lsprotocol import types

from tests.fuzz.edits import edited
from verifier.front.editor import lenses
from verifier.front.editor.completion import offers_at
from verifier.front.editor.fixes import fixes
from verifier.front.editor.hover import hover_of
from verifier.front.editor.jobs import OpenJob
from verifier.front.editor.places import finding_of, offset_of, position_of, range_of
from verifier.front.editor.renaming import Refused, rename


@pytest.mark.parametrize("seed", range(60))
def test_everything_that_is_asked_of_an_edited_job_is_answered(seed: int) -> None:
    rng = Random(seed)
    job = OpenJob(None, "job")
    job.put("a.dusk", edited(rng))
    if seed % 3 == 0:
        job.put("b.dusk", edited(rng))
    reading = job.read()
    uris = {file.name: f"file:///{file.name}" for file in reading.sources.files}
    states = job.states()
    mentions = reading.mentions
    every = [m for m in mentions.all if m.span.file in reading.sources.by_name]
    for mention in rng.sample(every, min(len(every), 12)):
        assert hover_of(mention, mentions, reading, states)
        file = reading.sources.by_name[mention.span.file]
        assert mentions.at(file.name, mention.span.start) is not None
        found = rename(reading.sources, mentions, mention, "a_name_of_its_own")
        assert isinstance(found, Refused) or found
        at = range_of(file, mention.span)
        assert offset_of(file, at.start) == mention.span.start
        assert offset_of(file, at.end) == mention.span.end
    for file in reading.sources.files:
        assert isinstance(lenses.lenses(job, reading, file, uris[file.name]), list)
        for _ in range(6):
            offset = rng.randrange(len(file.text) + 1)
            offers = offers_at(file.text[:offset], mentions)
            assert 0 <= offers.length <= offset
            assert offset_of(file, position_of(file, offset)) == offset
        assert offset_of(file, types.Position(10**9, 3)) == len(file.text)
    for finding in reading.findings[:4]:
        place = reading.sources.by_name[finding.labels[0].span.file]
        assert finding_of(finding, place, reading.sources, uris).message
        assert isinstance(fixes(reading.sources, "job", finding), tuple)
