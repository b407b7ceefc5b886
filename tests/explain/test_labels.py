"""Names become labels where they are names, and nowhere else. No source: the sentences are ours."""

from __future__ import annotations

import pytest

from verifier.explain.labels import with_labels

LABELS = {
    "up": "Upper switch",
    "down": "Lower switch",
    "run": "Motor",
    "on": "Main switch",
    "last": "Last button",
    "hand": "Hand lamp",
    "gate": "Gate",
    "floor_1.pir": "Detector",
}

SAID = {
    "gate starts to go down": "“Gate” starts to go down",
    "up clear, run on, gate moving": "“Upper switch” clear, “Motor” on, “Gate” moving",
    "upon run becomes on provided night": "upon “Motor” becomes on provided night",
    "on becomes on": "“Main switch” becomes on",
    "last pressed for the last time": "“Last button” pressed for the last time",
    "after last on becomes off: hand is on within 5 s": "after last “Main switch” becomes off: "
    "“Hand lamp” is on within 5 s",
    "the last one leaves gate": "the last one leaves “Gate”",
    "hand is switched on by hand": "“Hand lamp” is switched on by hand",
    "wait until up is reached": "wait until “Upper switch” is reached",
    "gate runs on, for good": "“Gate” runs on, for good",
    "leads to run is off": "leads to “Motor” is off",
    "Had “gate starts to go down” come": "Had “Gate starts to go down” come",
    "floor_1.pir is occupied": "“Detector” is occupied",
}


@pytest.mark.parametrize("words", SAID)
def test_a_name_that_is_an_ordinary_word_is_replaced_where_it_is_the_name(words: str) -> None:
    assert with_labels(words, LABELS) == SAID[words]
