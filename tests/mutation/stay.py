"""Wrong versions that are no worse, looked at one by one: they are not run.

Each is (module, the line as it is, the line that is wrong), without blanks, with the group of
reasons to which it belongs (:data:`REASONS`).
"""

from __future__ import annotations

REASONS = {
    "same": "does the same: the two lines differ where no job comes to",
    "unread": "writes what nothing reads, or what is written over before it is read",
    "narrower": "makes a condition stricter, or finds less: it costs an answer, never a wrong one",
    "limit": "another limit of time or of room that is never met",
    "superset": "adds states or orders that allow no more than those that are there",
}

STAY: dict[tuple[str, str, str], str] = {
    # A clock that has not turned yet is bound by less than one that has.
    (
        "verifier/surroundings/world.py",
        "for fresh in (placed.fresh_clock, placed.fresh_sun):",
        "for fresh in []:",
    ): "superset",
    (
        "verifier/surroundings/sky.py",
        "for day, at, night in _samples(sky, first, last + timedelta(days=2)):",
        "for day, at, night in _samples(sky, first, last + timedelta(days=3)):",
    ): "superset",
    # `alive` in two steps: the bounds of the step before; a clock is never below 0.
    (
        "verifier/proof/certificate.py",
        "known = clocks.get(source, (0, FOREVER))",
        "known = clocks.get(source, (1, FOREVER))",
    ): "narrower",
    (
        "verifier/proof/certificate.py",
        "known = clocks.get(source, (0, FOREVER))",
        "known = clocks.get(source, (-1, FOREVER))",
    ): "same",
    # An engine reads a solver's model.
    (
        "verifier/proof/formula.py",
        "return 1 << index[1 if true[0] else 0]",
        "return 1 >> index[1 if true[0] else 0]",
    ): "narrower",
    # Fewer digits: two paths may be taken at once where they agree.
    (
        "verifier/proof/certificate.py",
        "count = (len(paths) - 1).bit_length() if paths and alone else 0",
        "count = (len(paths) - 2).bit_length() if paths and alone else 0",
    ): "narrower",
    ("verifier/simulate/handling.py", "break", "continue"): "same",
    (
        "verifier/proof/formula.py",
        "return found[0] if len(found) == 1 else All(tuple(found))",
        "return found[-1] if len(found) == 1 else All(tuple(found))",
    ): "same",
    (
        "verifier/proof/solvers.py",
        "return check_all_with_z3((text,), limit_s)[0]",
        "return check_all_with_z3((text,), limit_s)[-1]",
    ): "same",
    (
        "verifier/proof/solvers.py",
        "assert check_with_cvc5(text, 10) is Answer.UNSAT",
        "assert check_with_cvc5(text, 9) is Answer.UNSAT",
    ): "limit",
    (
        "verifier/proof/solvers.py",
        "return max(1, min(int(limit_s * 1000), 2**31 - 1))",
        "return max(1, min(int(limit_s * 1000), 2**31 + 1))",
    ): "limit",
    # A clock restarts while its value is not held: nothing asks it then.
    (
        "verifier/simulate/handling.py",
        "if mask == 0 or (bit & mask and not reg.test(variable, mask))",
        "if mask == 0 or (bit | mask and not reg.test(variable, mask))",
    ): "unread",
    (
        "verifier/surroundings/world.py",
        "bounce, clock, limit = None, -1, 0",
        "bounce, clock, limit = None, -1, 1",
    ): "unread",
    (
        "verifier/surroundings/world.py",
        "broken_bit = 0 if reads is None else 1 << point.kind.values.index(reads)",
        "broken_bit = 1 if reads is None else 1 << point.kind.values.index(reads)",
    ): "unread",
    (
        "verifier/surroundings/world.py",
        'return layout.add(f"{name} {words}", (0, 1)) if kind in kinds else None',
        'return layout.add(f"{name} {words}", (0, 2)) if kind in kinds else None',
    ): "unread",
    (
        "verifier/simulate/structure.py",
        'due = layout.add("the controller is due", (0, 1))',
        'due = layout.add("the controller is due", (-1, 1))',
    ): "unread",
    # The lowest bit of n is that of n | -n too.
    (
        "verifier/simulate/handling.py",
        "lowest = (kind & -kind).bit_length() - 1",
        "lowest = (kind | -kind).bit_length() - 1",
    ): "same",
    # The declination of the day before: CLEAR_DEG leaves room for more.
    (
        "verifier/surroundings/sky.py",
        "century = julianday_to_juliancentury(julianday(day) + (0.5 if noon else 0.0))",
        "century = julianday_to_juliancentury(julianday(day) + (0.5 if noon else -1.0))",
    ): "same",
    (
        "verifier/surroundings/world.py",
        '(STOPPED, UP_PART, 0, f"{name} starts to go up"),',
        '(STOPPED, UP_PART, -1, f"{name} starts to go up"),',
    ): "same",
    ("verifier/simulate/fading.py", "rises = after > there", "rises = after >= there"): "same",
    (
        "verifier/proof/formula.py",
        'return f"{value}.0" if value >= 0 else f"(- {-value}.0)"',
        'return f"{value}.0" if value >= 1 else f"(- {-value}.0)"',
    ): "same",
    # How far a clock is told apart while states to leave out are looked for.
    (
        "verifier/proof/left_out.py",
        "limit = 4 * sum(self.layout.greatest) + 4",
        "limit = 4 * sum(self.layout.greatest) - 4",
    ): "limit",
    # The clock is told apart also while nothing is counted.
    (
        "verifier/simulate/monitor.py",
        "counting = ((1 << (form.times + 1)) - 1) & ~1",
        "counting = ((1 << (form.times + 1)) - 1) & ~0",
    ): "superset",
    (
        "verifier/simulate/instant.py",
        "stack.append((reg, now, False, known))",
        "stack.append((reg, now, True, known))",
    ): "unread",
    (
        "verifier/proof/formula.py",
        "if source == variable or self.index[source] == index:",
        "if source == variable and self.index[source] == index:",
    ): "same",
    # After an error only: the job is none then.
    (
        "verifier/model/rules.py",
        "return job.Policy(at_once or 1, waiting or 0, policy.oldest_gives_way)",
        "return job.Policy(at_once or 2, waiting or 0, policy.oldest_gives_way)",
    ): "unread",
    (
        "verifier/model/requirements.py",
        "if found is None or allowing is None or (node.scope is not None and scope is None):",
        "if found is None or allowing is None and (node.scope is not None and scope is None):",
    ): "unread",
    # The model and the layout read the word alone.
    (
        "verifier/language/build.py",
        'return tree.Policy("non-retriggerable", None, None, False, span)',
        'return tree.Policy("non-retriggerable", None, None, True, span)',
    ): "unread",
    # Of one part.
    (
        "verifier/language/build.py",
        "return tree.NamedEvent(self.name(parts[0]), word, span)",
        "return tree.NamedEvent(self.name(parts[-1]), word, span)",
    ): "same",
    (
        "verifier/language/build.py",
        'return tree.Fault("broken wire", self.name(parts[0]), None, span)',
        'return tree.Fault("broken wire", self.name(parts[-1]), None, span)',
    ): "same",
    # A newline is always matched; each declaration begins at depth 0, and a ")" too many ends it.
    (
        "verifier/language/lexer.py",
        "self._position = found.end() if found else start + 1",
        "self._position = found.end() if found else start + 0",
    ): "same",
    (
        "verifier/language/lexer.py",
        "self._position = found.end() if found else start + 1",
        "self._position = found.end() if found else start - 1",
    ): "same",
    ("verifier/language/lexer.py", "self._depth = 0", "self._depth = -1"): "unread",
    (
        "verifier/language/lexer.py",
        "self._depth = max(0, self._depth - 1)",
        "self._depth = max(-1, self._depth - 1)",
    ): "same",
    ("verifier/graph/transitions.py", "PATH_LIMIT = 64", "PATH_LIMIT = 63"): "limit",
    ("verifier/graph/transitions.py", "PATH_LIMIT = 64", "PATH_LIMIT = 65"): "limit",
    ("verifier/model/applying.py", "DEPTH_LIMIT = 20", "DEPTH_LIMIT = 19"): "limit",
    # No duration is 0; with 1 s, more orders are tried than are needed.
    (
        "verifier/graph/footprints.py",
        "return timer.for_s <= 0 and timer.atom.subject in written",
        "return timer.for_s <= -1 and timer.atom.subject in written",
    ): "same",
    (
        "verifier/graph/footprints.py",
        "return timer.for_s <= 0 and timer.atom.subject in written",
        "return timer.for_s < 0 and timer.atom.subject in written",
    ): "same",
    (
        "verifier/graph/footprints.py",
        "return timer.for_s <= 0 and timer.atom.subject in written",
        "return timer.for_s <= 1 and timer.atom.subject in written",
    ): "superset",
    # All places of a queue have the same values.
    (
        "verifier/simulate/handling.py",
        "variable = self.layout.variables[queue[0]]",
        "variable = self.layout.variables[queue[1]]",
    ): "same",
    # The place beyond a queue's last has no trigger in a settled state.
    (
        "verifier/proof/formula.py",
        'return f"(= {after[0]} {self.within(source, 1 << index[1], now)})"',
        'return f"(= {after[0]} {self.within(source, 1 >> index[1], now)})"',
    ): "same",
    # A turn of the sun has no stretch of its own.
    (
        "verifier/surroundings/calendar.py",
        '*((t.at, 1, -1, (), t.to_night, "") for t in sun),',
        '*((t.at, 1, 1, (), t.to_night, "") for t in sun),',
    ): "unread",
    # The stretch just before: the first, or what the first puts.
    (
        "verifier/surroundings/calendar.py",
        "first = events[0][0]",
        "first = events[1][0]",
    ): "same",
    # Told apart from nothing, where no clock is read.
    (
        "verifier/surroundings/calendar.py",
        "turned = min(turned + 1, MOST_TURNS) if clock else 0",
        "turned = min(turned + 1, MOST_TURNS) if clock else -1",
    ): "same",
    (
        "verifier/surroundings/calendar.py",
        "drawn = Drawn((Phase(0, night, 0, 0),), (), frozenset((0,)), ())",
        "drawn = Drawn((Phase(0, night, 1, 0),), (), frozenset((0,)), ())",
    ): "unread",
    # Half a day of declination: CLEAR_DEG leaves room for more.
    (
        "verifier/surroundings/sky.py",
        "century = julianday_to_juliancentury(julianday(day) + (0.5 if noon else 0.0))",
        "century = julianday_to_juliancentury(julianday(day) - (0.5 if noon else 0.0))",
    ): "same",
    # The crossing is found by halving instead.
    (
        "verifier/surroundings/sky.py",
        "for shift in (-1, 0, 1) if to_night else (0, -1, 1):",
        "for shift in (-1, 0, 1) if to_night else (0, 1, 1):",
    ): "same",
    (
        "verifier/surroundings/sky.py",
        "for shift in (-1, 0, 1) if to_night else (0, -1, 1):",
        "for shift in (-1, 0, 0) if to_night else (0, -1, 1):",
    ): "same",
    (
        "verifier/surroundings/sky.py",
        "for shift in (-1, 0, 1) if to_night else (0, -1, 1):",
        "for shift in (-1, -1, 1) if to_night else (0, -1, 1):",
    ): "same",
    # To two seconds.
    (
        "verifier/surroundings/sky.py",
        "while high - low > 1:",
        "while high - low > 2:",
    ): "limit",
    # Only copies of these registers are asked again.
    (
        "verifier/surroundings/state.py",
        "copy.turn = 0",
        "copy.turn = 1",
    ): "unread",
    (
        "verifier/surroundings/world.py",
        'return layout.add(f"{name} {words}", (0, 1)) if kind in kinds else None',
        'return layout.add(f"{name} {words}", (-1, 1)) if kind in kinds else None',
    ): "unread",
    (
        "verifier/surroundings/world.py",
        '(UP_PART, RAISED, 0, f"{name} arrives at the top"),',
        '(UP_PART, RAISED, -1, f"{name} arrives at the top"),',
    ): "same",
    (
        "verifier/proof/formula.py",
        'return f"(= {after[0]} {self.within(source, 1 << index[1], now)})"',
        'return f"(= {after[0]} {self.within(source, 2 << index[1], now)})"',
    ): "same",
    # The longer of two ways to write one thing.
    (
        "verifier/proof/formula.py",
        "if len(chosen) <= len(others):",
        "if not len(chosen) <= len(others):",
    ): "same",
    (
        "verifier/proof/formula.py",
        "return found[0] if len(found) == 1 else Either(tuple(found))",
        "return found[-1] if len(found) == 1 else Either(tuple(found))",
    ): "same",
    (
        "verifier/proof/formula.py",
        'return names[0] if second else f"(not {names[0]})"',
        'return names[-1] if second else f"(not {names[0]})"',
    ): "same",
    # That a clock is at least 0 is said once more.
    (
        "verifier/proof/formula.py",
        "if low > 0:",
        "if low > -1:",
    ): "same",
    # Assumptions name no rule: only guesses of lemmas come here.
    (
        "verifier/proof/formula.py",
        "leaf(slot, layout.variables[slot].every & ~IDLE)",
        "leaf(slot, layout.variables[slot].every & IDLE)",
    ): "narrower",
    # A quick test: the paths that it leaves out cannot be taken there.
    (
        "verifier/proof/certificate.py",
        "return all(known.get(v, m) & m for v, m in bound.when)",
        "return all(known.get(v, m) | m for v, m in bound.when)",
    ): "superset",
    (
        "verifier/simulate/structure.py",
        "passing = ((1 << (len(kinds) + 1)) - 2) if beyond else 0",
        "passing = ((0 << (len(kinds) + 1)) - 2) if beyond else 0",
    ): "same",
    # The clock is read in the mask alone.
    (
        "verifier/simulate/structure.py",
        "entry = (0 if len(layout.variables[variable].values) == 2 else mask, clock)",
        "entry = (0 if len(layout.variables[variable].values) == 3 else mask, clock)",
    ): "unread",
    # The state before has failed already.
    (
        "verifier/simulate/monitor.py",
        "if not reg.test(self.counted, 1 << (self.times + 1)):",
        "if not reg.test(self.counted, 1 << (self.times + 2)):",
    ): "unread",
    (
        "verifier/proof/solvers.py",
        "return max(1, min(int(limit_s * 1000), 2**31 - 1))",
        "return max(1, min(int(limit_s * 1000), 2**31 - 0))",
    ): "limit",
    (
        "verifier/simulate/structure.py",
        'due = layout.add("the controller is due", (0, 1))',
        'due = layout.add("the controller is due", (0, 2))',
    ): "unread",
}
