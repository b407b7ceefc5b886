"""The moments of a run by the clock: of a date where a site has one, else of a day of the week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from verifier.model.words import DAYS
from verifier.simulate.run import RunClock

DAY_S = 86_400


@dataclass(slots=True)
class ClockTold:
    """Tells the moments of one run, a date only where it is another one than was told last."""

    clock: RunClock

    def begins(self) -> str:
        """When the run begins, as a sentence."""
        at = self.clock.begins_s
        if self.clock.timezone is None:
            return f"It begins at {self.dated(Fraction(0))}."
        local = self._local(at)
        return (
            f"It begins on {local:%A}, {local.day} {local:%B %Y}, at {_time_of(local)} "
            f"({self.clock.timezone}, {local:%Z})."
        )

    def at(self, at_s: Fraction) -> str:
        """A moment of the run by the clock: ``22:00``, ``Sun 21 June 05:45``."""
        at = self.clock.begins_s + at_s
        if self.clock.timezone is None:
            day = int(at // DAY_S) % 7
            begun = int(self.clock.begins_s // DAY_S) % 7
            other = day != begun or at_s >= 7 * DAY_S
            named = f"{DAYS[day]} " if self.clock.weekdays and other else ""
            return f"{named}{_time(at % DAY_S)}"
        local, begun_at = self._local(at), self._local(self.clock.begins_s)
        date = f"{local:%a} {local.day} {local:%B} " if local.date() != begun_at.date() else ""
        date += f"{local.year} " if local.year != begun_at.year else ""
        # After a change of the clock its name tells the two 02:30 of one night apart.
        zone = f" {local:%Z}" if local.utcoffset() != begun_at.utcoffset() else ""
        return f"{date}{_time_of(local)}{zone}"

    def dated(self, at_s: Fraction) -> str:
        """A moment that stands alone: ``21 June 2026, 05:45``, ``mon 22:00``."""
        at = self.clock.begins_s + at_s
        if self.clock.timezone is None:
            day = f"{DAYS[int(at // DAY_S) % 7]} " if self.clock.weekdays else ""
            return f"{day}{_time(at % DAY_S)}"
        local = self._local(at)
        return f"{local.day} {local:%B %Y}, {_time_of(local)}"

    def iso(self, at_s: Fraction) -> str:
        """A moment for programs: ISO 8601 with its offset; without a site day and time."""
        at = self.clock.begins_s + at_s
        if self.clock.timezone is None:
            day = f"{DAYS[int(at // DAY_S) % 7]} " if self.clock.weekdays else ""
            whole = int(at % DAY_S)
            return f"{day}{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"
        return self._local(at).isoformat()

    def _local(self, at: Fraction) -> datetime:
        assert self.clock.timezone is not None
        whole = int(at // 1)
        micro = int((at - whole) * 1_000_000)
        moment = datetime.fromtimestamp(whole, UTC) + timedelta(microseconds=micro)
        return moment.astimezone(ZoneInfo(self.clock.timezone))


def _time(second: Fraction) -> str:
    """A time of the day; its seconds only where there are any, with up to three places."""
    whole = int(second)
    text = f"{whole // 3600:02}:{whole // 60 % 60:02}"
    thousandths = int(second % 1 * 1000)
    if thousandths:
        return f"{text}:{whole % 60:02}.{thousandths:03}".rstrip("0")
    return f"{text}:{whole % 60:02}" if whole % 60 else text


def _time_of(local: datetime) -> str:
    second = local.hour * 3600 + local.minute * 60 + local.second
    return _time(second + Fraction(local.microsecond, 1_000_000))
