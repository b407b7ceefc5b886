"""The energy of a year as JSON."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from verifier import __version__
from verifier.front.energy_text import SHAPES, methods, origins
from verifier.handover.energy import Energy, Mean, OutputEnergy, money
from verifier.model.words import number
from verifier.source import Sources


def energy_json(found: Energy, sources: Sources) -> str:
    """One object: the year, each output, the sums, and where the figures come from.

    Units: kWh, seconds and times in a year. Keys are fixed; more may be added.
    """
    usage = found.job.usage
    assert usage is not None
    price = usage.price
    value = {
        "tool": "duskproof",
        "version": __version__,
        "job": found.job.name,
        "usage": list(usage.labels),
        "year": found.year.year,
        "weeks": found.weeks,
        "seed": found.seed,
        "happenings": found.happenings,
        "price_per_kwh": None if price is None else number(price.per_kwh),
        "currency": None if price is None else price.currency,
        "outputs": [_output(found, each) for each in found.outputs],
        "kwh": found.kwh,
        "left_on_kwh": float(found.left_on),
        "at_rest": dict(found.idle),
        "rules_that_never_run": list(found.dead),
        "origins": origins(found, sources),
        "methods": methods(found),
    }
    return json.dumps(value, indent=2, ensure_ascii=False)


def _output(found: Energy, each: OutputEnergy) -> dict[str, Any]:
    price = found.job.usage.price if found.job.usage else None
    known = price is not None and each.kwh is not None
    bound, formula = each.at_most, each.expected
    return {
        "name": each.point.name,
        "title": each.point.label,
        "power_w": None if each.point.power_w is None else number(each.point.power_w),
        "kwh": each.kwh,
        "cost": money(price.per_kwh * Fraction(each.kwh))
        if known and price is not None and each.kwh is not None
        else None,
        "simulated": {
            "on_s": _mean(each.on_s),
            "switched_on": _mean(each.switched),
            "kwh": None if each.simulated is None else _mean(each.simulated),
        },
        "formula": None
        if formula is None
        else {"on_s": formula.on_s, "kwh": each.by_formula, "words": SHAPES[formula.shape]},
        "at_most": None
        if bound is None
        else {
            "on_s": float(bound.on_s),
            "kwh": None if each.most is None else float(each.most),
            "proved_s": number(bound.tail_s),
            "after": [{"event": words, "times": float(times)} for words, times in bound.moments],
            "not_at_rest_s": float(bound.away_s),
        },
        "left_on_kwh": None if each.left_on is None else float(each.left_on),
        "left_on_by_night_kwh": None if each.left_on_nights is None else float(each.left_on_nights),
        "standby_kwh": each.standby,
    }


def _mean(mean: Mean) -> dict[str, float | None]:
    return {"mean": mean.value, "half_of_95": mean.half}
